// Advice that a model keeps for questions asked again.
#include <catch2/catch.hpp>
#include <fstream>
#include <sstream>
#include <string>

#include "capi/engine/loaded_model.h"
#include "capi/engine/questions.h"
#include "core/diagnosis/program.h"

using namespace faultodds;

namespace {

engine::SharedModel lift() {
  std::ifstream file(LIFT);
  std::ostringstream text;
  text << file.rdbuf();
  const std::string circuit = text.str();
  engine::Load what;
  what.circuit = circuit;
  engine::At at{};
  return engine::load(what, at);
}

std::string drift(const std::string& more) {
  return R"({"format": "faultodds-case/1", "observations":
    [{"observation": "drift/cylinder/retract", "outcome": "fast"}])" +
         more + "}";
}

}  // namespace

TEST_CASE("a question asked again gets the answer that was given, without another search") {
  const engine::SharedModel model = lift();
  const std::string question = drift(R"(, "detail": "full")");
  const std::string first = engine::assess(*model, question);
  const diagnosis::PlanCounts before = model->model.program().advices().counts();
  CHECK(engine::assess(*model, question) == first);
  const diagnosis::PlanCounts after = model->model.program().advices().counts();
  CHECK(before.made == 1);
  CHECK(after.made == before.made);
  CHECK(after.from_cache == before.from_cache + 1);
}

TEST_CASE("how much of an answer is wanted makes no other question of it, and its note neither") {
  const engine::SharedModel model = lift();
  engine::assess(*model, drift(R"(, "detail": "full")"));
  engine::assess(*model, drift(R"(, "detail": "screen")"));
  engine::note(*model, drift(""), engine::NoteFormat::text);
  CHECK(model->model.program().advices().counts().made == 1);
}

TEST_CASE("another price is another question, and the first is answered as before") {
  const engine::SharedModel model = lift();
  const std::string cheap = drift(R"(, "detail": "full")");
  const std::string dear = drift(R"(, "detail": "full", "economics": {"downtime_per_hour": 900})");
  const std::string first = engine::assess(*model, cheap);
  CHECK(engine::assess(*model, dear) != first);
  CHECK(engine::assess(*model, cheap) == first);
  CHECK(model->model.program().advices().counts().made == 2);
}
