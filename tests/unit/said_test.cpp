#include "core/diagnosis/said.h"
#include "capi/documents/wording.h"

#include <catch2/catch.hpp>
#include <cstdint>
#include <string>
#include <utility>

using namespace faultodds::diagnosis;

namespace {

Evidence outcome(std::uint32_t observation, std::uint32_t which, std::string at = {}) {
  Evidence entry;
  entry.observation = observation;
  entry.outcome = which;
  entry.at = std::move(at);
  return entry;
}

Evidence leak_rate(double rate) {
  Evidence entry;
  entry.reading.emplace();
  entry.reading->leak_rate = rate;
  return entry;
}

}  // namespace

TEST_CASE("an outcome or a reading that is said twice without a time counts once") {
  Case the_case;
  Said said;
  said.add(the_case, outcome(0, 1));
  said.add(the_case, outcome(0, 1));
  said.add(the_case, leak_rate(1e-6));
  said.add(the_case, leak_rate(1e-6));
  CHECK(the_case.evidence.size() == 2);
  CHECK(the_case.said_before.at(0) == 2);
}

TEST_CASE("another outcome, observation, reading or time is something else that was seen") {
  Case the_case;
  Said said;
  for (const Evidence& entry : {outcome(0, 1), outcome(0, 2), outcome(1, 1), outcome(0, 1, "noon"),
                                leak_rate(1e-6), leak_rate(2e-6)}) {
    said.add(the_case, entry);
  }
  CHECK(the_case.evidence.size() == 6);
  CHECK(the_case.said_before.empty());
}

TEST_CASE("what was looked at again counts each time, in whatever order it is said") {
  Evidence again = outcome(0, 1);
  again.again = true;
  Case before, after;
  Said said_before, said_after;
  said_before.add(before, again);
  said_before.add(before, outcome(0, 1));
  said_after.add(after, outcome(0, 1));
  said_after.add(after, again);
  CHECK(before.evidence.size() == 2);
  CHECK(after.evidence.size() == 2);
}

TEST_CASE("the same outcome after a repair is another observation") {
  Case the_case;
  Said said;
  said.add(the_case, outcome(0, 1));
  Evidence after = outcome(0, 1);
  after.repairs_before = 1;
  said.add(the_case, after);
  CHECK(the_case.evidence.size() == 2);
}

TEST_CASE("what was taken back can be said once more") {
  Case the_case;
  Said said;
  said.add(the_case, outcome(0, 1));
  the_case.evidence.clear();
  said.forget(the_case, 0);
  said.add(the_case, outcome(0, 1));
  CHECK(the_case.evidence.size() == 1);
}

TEST_CASE("a warning names the observation that was said before") {
  faultodds::circuit::Analysis analysis;
  analysis.observations.resize(1);
  analysis.observations[0].id = "boom_sinks";
  analysis.observations[0].title = "Boom sinks";
  Case the_case;
  Said said;
  CHECK(said_before_warnings(analysis, the_case).empty());
  said.add(the_case, outcome(0, 1));
  said.add(the_case, outcome(0, 1));
  const auto warnings = said_before_warnings(analysis, the_case);
  REQUIRE(warnings.size() == 1);
  CHECK_THAT(faultodds::documents::Words(analysis).say(warnings[0]),
             Catch::Contains("Boom sinks: 1 entry says what was said before"));
}
