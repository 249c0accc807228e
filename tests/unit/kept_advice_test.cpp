// Assessments and advice that a model keeps for questions asked again.
#include <catch2/catch.hpp>
#include <fstream>
#include <sstream>
#include <string>

#include "capi/engine/loaded_model.h"
#include "capi/engine/questions.h"
#include "core/diagnosis/program.h"

using namespace faultodds;

namespace {

engine::SharedModel lift(std::size_t memory_budget = std::size_t{128} << 20) {
  std::ifstream file(LIFT);
  std::ostringstream text;
  text << file.rdbuf();
  const std::string circuit = text.str();
  engine::Load what;
  what.circuit = circuit;
  what.options.memory_budget = memory_budget;
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

TEST_CASE("what is shown of a case, noted and drawn is inferred once") {
  const engine::SharedModel model = lift();
  const std::string shown = engine::assess(*model, drift(""));
  const engine::SharedModel other = lift();
  engine::note(*other, drift(""), engine::NoteFormat::text);
  engine::draw(*other, drift(""), 360, "en");
  CHECK(engine::assess(*other, drift(R"(, "detail": "screen")")) == shown);
  CHECK(other->model.program().assessments().counts().made == 1);
  CHECK(other->model.program().assessments().counts().from_cache == 2);
}

TEST_CASE("assessments take an eighth of the memory budget at most, the latest of them") {
  const engine::SharedModel model = lift();
  const std::size_t most = model->model.program().account().budget() / 8;
  std::size_t asked = 0;
  while (model->model.program().assessments().counts().evicted == 0 && asked < 100'000) {
    engine::assess(
        *model, drift(R"(, "advice": false, "asset": {"id": ")" + std::to_string(asked++) + "\"}"));
    REQUIRE(model->model.program().assessments().counts().bytes <= most);
  }
  CHECK(model->model.program().assessments().counts().evicted > 0);
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
