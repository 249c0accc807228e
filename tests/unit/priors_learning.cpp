#include <catch2/catch.hpp>
#include <cmath>

#include "core/diagnosis/assessment.h"
#include "core/error.h"
#include "priors/estimators.h"
#include "priors/generator.h"
#include "priors/learning.h"
#include "tests/unit/circuit_builder.h"
#include "tests/unit/lift_fleet.h"

namespace priors_learning {

using namespace faultodds;
using namespace faultodds::priors;
using Catch::Contains;
using lift_fleet::lift;
using lift_fleet::truth;

namespace {

std::uint32_t mode(const circuit::Analysis& analysis, const std::string& id) {
  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
    if (analysis.modes[m].id == id) return m;
  }
  FAIL("no mode " << id);
  return 0;
}

std::uint32_t observation(const circuit::Analysis& analysis, const std::string& id) {
  for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
    if (analysis.observations[o].id == id) return o;
  }
  FAIL("no observation " << id);
  return 0;
}

// Wrong on purpose, and not worth much.
std::map<ModeName, Dirichlet> judgement() {
  std::map<ModeName, Dirichlet> j;
  for (const auto& [name, unused] : truth()) j[name] = {{4.5, 0.3, 0.2}};
  return j;
}

std::vector<Job> jobs(const GeneratorOptions& options, int count) {
  Generator generator(lift(), truth(), options);
  std::vector<Job> result;
  for (int i = 0; i < count; ++i) result.push_back(generator.next());
  return result;
}

}  // namespace

TEST_CASE("records of one component opened every time are counted, exactly") {
  // No observations: learning is the conjugate update.
  const std::uint32_t seal = mode(lift(), "boom.piston_seal_leak");
  std::vector<Job> records;
  for (int i = 0; i < 10; ++i) {
    Job job;
    job.id = std::to_string(i);
    if (i < 3) {
      job.findings.push_back({{seal}, i == 0 ? 1 : 2});
    } else {
      job.sound.push_back(seal);
    }
    records.push_back(job);
  }
  const std::map<ModeName, Dirichlet> prior{{{"cylinder", "piston_seal_leak"}, {{9, 0.5, 0.5}}}};
  const Learned learned = learn({lift()}, records, prior);
  CHECK(learned.converged);
  const LearnedMode& m = learned.modes.at({"cylinder", "piston_seal_leak"});
  CHECK(m.posterior.mean(0) == Approx(16.0 / 20).epsilon(1e-6));
  CHECK(m.posterior.mean(1) == Approx(1.5 / 20).epsilon(1e-6));
  CHECK(m.posterior.weight() == Approx(20).epsilon(1e-4));
  CHECK(m.not_sound_interval.upper == Approx(Beta{4, 16}.interval().upper).epsilon(1e-4));
  CHECK(learned.patterns == 3);
}

TEST_CASE("a mode that no record says anything of keeps its judgement and its worth") {
  Job job;
  job.id = "1";
  job.sound.push_back(mode(lift(), "boom.piston_seal_leak"));
  const Learned learned = learn({lift()}, {job}, judgement());
  const LearnedMode& m = learned.modes.at({"pump", "wear"});
  CHECK(m.not_sound == Approx(0.1).epsilon(1e-6));
  CHECK(m.posterior.weight() == Approx(5).epsilon(1e-3));
}

TEST_CASE("the likelihood of the records is the engine's probability of their evidence") {
  GeneratorOptions options;
  std::vector<Job> records = jobs(options, 5);
  for (Job& job : records) {
    job.findings.clear();
    job.sound.clear();
  }
  LearnOptions learn_options;
  learn_options.select_by_complaint = false;
  const Learned learned = learn({lift()}, records, judgement(), learn_options);
  const diagnosis::Model model =
      diagnosis::Model::compile(lift(), learned_pack(learned, "learned"));
  double expected = 0;
  for (const Job& job : records) {
    diagnosis::Case the_case;
    the_case.evidence = job.evidence;
    expected += diagnosis::assess(model, the_case).log_evidence;
  }
  CHECK(learned.log_likelihood == Approx(expected).epsilon(1e-6));
}

TEST_CASE("an ambiguous finding is the sum over what it may mean") {
  const std::uint32_t bore = mode(lift(), "valve.bore_wear"), sticks = mode(lift(), "valve.sticks");
  Job job;
  job.id = "1";
  job.findings.push_back({{bore, sticks}, std::nullopt});
  // Priors held still by their worth: P(at least one) = 1 - .9 * .96.
  const std::map<ModeName, Dirichlet> prior{{{"valve", "bore_wear"}, {{9e7, 6e6, 4e6}}},
                                            {{"valve", "sticks"}, {{9.6e7, 3e6, 1e6}}}};
  const Learned learned = learn({lift()}, {job}, prior);
  CHECK(std::exp(learned.log_likelihood) == Approx(1 - 0.9 * 0.96).epsilon(1e-6));
  const LearnedMode& m = learned.modes.at({"valve", "bore_wear"});
  CHECK(m.counts[0] == Approx(1 - 0.1 / 0.136).epsilon(1e-6));
  job.findings[0].grade = 1;
  CHECK(std::exp(learn({lift()}, {job}, prior).log_likelihood) ==
        Approx(0.96 * 0.99 - 0.9 * 0.96).epsilon(1e-6));
  job.findings[0].grade = 2;
  CHECK(std::exp(learn({lift()}, {job}, prior).log_likelihood) ==
        Approx(1 - 0.96 * 0.99).epsilon(1e-6));
}

TEST_CASE("learning from complaints recovers the truth where counting is visibly off",
          "[enumerated]") {
  GeneratorOptions options;
  options.seed = 11;
  const std::vector<Job> records = jobs(options, 2500);
  const Learned learned = learn({lift()}, records, judgement());
  CHECK(learned.converged);
  int inside = 0;
  for (const auto& [name, grades] : truth()) {
    const LearnedMode& m = learned.modes.at(name);
    CAPTURE(name.type, name.mode, m.not_sound, m.not_sound_interval.lower,
            m.not_sound_interval.upper);
    const double p = 1 - grades[0];
    if (m.not_sound_interval.lower < p && p < m.not_sound_interval.upper) ++inside;
    CHECK(std::abs(std::log(m.not_sound / p)) < 0.35);
  }
  CHECK(inside >= 4);

  // Shares of the components that were opened, the ambiguous ones left out.
  const std::uint32_t seal = mode(lift(), "boom.piston_seal_leak");
  double bad = 0, seen = 0;
  for (const Job& job : records) {
    for (std::uint32_t m : job.sound) seen += m == seal ? 1 : 0;
    for (const Finding& f : job.findings) {
      if (f.modes == std::vector<std::uint32_t>{seal}) {
        bad += 1;
        seen += 1;
      }
    }
  }
  const ProbabilityEstimate counted = estimate_probability(bad, seen);
  CHECK(counted.interval.lower > 0.2 * 1.2);

  // Without the correction for selection the fleet looks far worse than it is.
  LearnOptions naive;
  naive.select_by_complaint = false;
  const Learned uncorrected = learn({lift()}, records, judgement(), naive);
  CHECK(uncorrected.modes.at({"relief", "seat_leak"}).not_sound > 0.12 * 1.3);
}

TEST_CASE("outcome statistics are learned from confirmed outcomes") {
  // The fleet's static tests are sharper than the circuit's defaults say.
  circuit::Analysis sharp = lift();
  for (circuit::Observation& o : sharp.observations) {
    if (o.kind == circuit::ObservationKind::static_hold) {
      o.matrix = {{0.99, 0.008, 0.002}, {0.02, 0.95, 0.03}, {0.005, 0.045, 0.95}};
    }
  }
  GeneratorOptions options;
  options.seed = 5;
  options.ambiguous = 0.1;
  Generator generator(sharp, truth(), options);
  std::vector<Job> records;
  for (int i = 0; i < 1500; ++i) records.push_back(generator.next());
  LearnOptions learn_options;
  learn_options.learn_outcomes = true;
  learn_options.most_iterations = 60;
  const Learned learned = learn({lift()}, records, judgement(), learn_options);
  const auto found = std::find_if(learned.outcomes.begin(), learned.outcomes.end(),
                                  [](const diagnosis::PackOutcomes& o) {
                                    return o.kind == circuit::ObservationKind::static_hold;
                                  });
  REQUIRE(found != learned.outcomes.end());
  CHECK(found->model.matrix[0][0] > 0.975);
  CHECK(found->model.matrix[1][1] > 0.88);
  CHECK(found->model.matrix[2][2] > 0.90);
  for (const auto& row : found->model.matrix) CHECK(row[0] + row[1] + row[2] == Approx(1));
  // The engine takes them.
  CHECK_NOTHROW(diagnosis::Model::compile(lift(), learned_pack(learned, "learned")));
}

TEST_CASE("a record that cannot be true is refused by its work order") {
  const std::uint32_t seal = mode(lift(), "boom.piston_seal_leak");
  Job job;
  job.id = "WO-9";
  job.findings.push_back({{seal}, 2});
  job.sound.push_back(seal);
  CHECK_THROWS_WITH(learn({lift()}, {job}, {}), Contains("WO-9") && Contains("impossible"));
  job.sound.clear();
  job.circuit = 3;
  CHECK_THROWS_WITH(learn({lift()}, {job}, {}), Contains("its circuit is not among"));
  job.circuit = 0;
  job.findings[0].grade = 5;
  CHECK_THROWS_WITH(learn({lift()}, {job}, {}), Contains("expected 1 or 2"));
  const auto modes = static_cast<std::uint32_t>(lift().modes.size());
  job.findings = {{{seal, modes}, 2}};
  CHECK_THROWS_WITH(learn({lift()}, {job}, {}), Contains("WO-9") && Contains("a finding's mode"));
  job.findings = {{{}, 2}};
  CHECK_THROWS_WITH(learn({lift()}, {job}, {}), Contains("names no mode"));
  job.findings.clear();
  job.sound = {modes};
  CHECK_THROWS_WITH(learn({lift()}, {job}, {}), Contains("a mode found sound"));
  job.sound.clear();
  job.complaint = static_cast<std::uint32_t>(lift().observations.size());
  CHECK_THROWS_WITH(learn({lift()}, {job}, {}), Contains("its complaint is not one"));
  job.complaint.reset();
  const std::uint32_t other = mode(lift(), "boom.rod_seal_leak");
  for (int i = 0; i < 5; ++i) job.findings.push_back({{seal, other}, {}});
  CHECK_THROWS_WITH(learn({lift()}, {job}, {}), Contains("more than the four ambiguous findings"));
}

TEST_CASE("a judgement without three grades is refused by its mode") {
  try {
    learn({lift()}, jobs({}, 5), {{{"relief", "seat_leak"}, {{0.9, 0.1}}}});
    FAIL("it was taken");
  } catch (const Error& error) {
    CHECK(error.code() == Code::invalid_priors);
    CHECK_THAT(error.what(), Contains("relief.seat_leak") && Contains("three grades"));
  }
}

TEST_CASE("learning can be cancelled") {
  LearnOptions options;
  options.progress = [](int, double) { return false; };
  try {
    learn({lift()}, jobs({}, 50), judgement(), options);
    FAIL("expected it to be cancelled");
  } catch (const Error& error) {
    CHECK(error.code() == Code::cancelled);
  }
}

TEST_CASE("conditions stay as the circuit has them and what they raise is not learned twice") {
  circuit::Description description = circuit_test::lift();
  circuit::Condition dirt;
  dirt.id = "dirty_oil";
  dirt.probability = 0.2;
  dirt.raises = {{"relief.seat_leak", 8}};
  description.conditions.push_back(dirt);
  const circuit::Analysis analysis = circuit_test::analyse(description);
  const std::uint32_t seat = mode(analysis, "main.seat_leak");
  std::vector<Job> records;
  for (int i = 0; i < 400; ++i) {
    Job job;
    job.id = std::to_string(i);
    if (i % 5 == 0) {
      job.findings.push_back({{seat}, 2});
    } else {
      job.sound.push_back(seat);
    }
    records.push_back(job);
  }
  const Learned learned =
      learn({analysis}, records, {{{"relief", "seat_leak"}, {{0.9, 0.05, 0.05}}}});
  // One in five of all machines, dirty or clean.
  CHECK(learned.modes.at({"relief", "seat_leak"}).not_sound == Approx(0.2).epsilon(0.03));
}

TEST_CASE("a work order's complaint and tests are understood on its circuit") {
  const Vocabulary vocabulary{
      {{"cylinder", {{"piston_seal_leak", "INL"}, {"rod_seal_leak", "ELU"}}}}};
  const std::uint32_t modes[] = {0};
  WorkOrder order;
  order.id = "W1";
  order.complaint = "drift/boom/extend=fast";
  order.tests = "static/boom.cap=held; static/valve.a = 40 mL/min";
  order.modes = modes;
  order.grade = 2;
  const Job job = job_of(order, vocabulary, lift(), 0, "boom");
  REQUIRE(job.evidence.size() == 3);
  CHECK(job.complaint == observation(lift(), "drift/boom/extend"));
  CHECK(job.evidence[0].outcome == 2u);
  CHECK(job.evidence[1].outcome == 0u);
  REQUIRE(job.evidence[2].reading.has_value());
  CHECK(*job.evidence[2].reading->leak_rate == Approx(40e-6 / 60));
  REQUIRE(job.findings.size() == 1);
  CHECK(job.findings[0] == Finding{{mode(lift(), "boom.piston_seal_leak")}, 2});
  CHECK(job.sound == std::vector<std::uint32_t>{mode(lift(), "boom.rod_seal_leak")});

  // A complaint without an outcome: only that it was not normal.
  order.complaint = "drift/boom/extend";
  const Job vague = job_of(order, vocabulary, lift(), 0, "boom");
  REQUIRE(vague.evidence.size() == 3);
  CHECK(!vague.evidence[0].outcome);
  REQUIRE(vague.evidence[0].likelihood);
  const circuit::Observation& drift = lift().observations[*vague.complaint];
  for (std::size_t s = 0; s < 3; ++s) {
    double normal = 0;
    for (std::size_t b = 0; b < 3; ++b) {
      normal += drift.background[b] * drift.matrix[std::max(s, b)][0];
    }
    CHECK((*vague.evidence[0].likelihood)[s] == Approx(1 - normal).epsilon(1e-12));
  }
  order.complaint = "drift/boom/extend=fast";

  order.tests = "static/nowhere=held";
  CHECK_THROWS_WITH(job_of(order, vocabulary, lift(), 0, "boom"), Contains("static/nowhere"));
  order.tests = "static/boom.cap=leaky";
  CHECK_THROWS_WITH(job_of(order, vocabulary, lift(), 0, "boom"),
                    Contains("held, bled_down, would_not_build"));
  order.tests = "static/boom.cap";
  CHECK_THROWS_WITH(job_of(order, vocabulary, lift(), 0, "boom"), Contains("has no outcome"));
  order.tests = "";
  CHECK_THROWS_WITH(job_of(order, vocabulary, lift(), 0, "arm"), Contains("component 'arm'"));
}

TEST_CASE("generated records are the same for the same seed and read back as they were written") {
  const std::vector<Job> first = jobs({}, 50), again = jobs({}, 50);
  std::string one = work_order_header(), two = one;
  for (const Job& job : first) one += work_order_rows(job, lift(), "demo");
  for (const Job& job : again) two += work_order_rows(job, lift(), "demo");
  CHECK(one == two);
  const Vocabulary vocabulary = vocabulary_of(circuit_test::types());
  std::map<std::string, Job> read;
  ReadSinks sinks;
  sinks.reject = [](const Reject& reject) { FAIL_CHECK(reject.detail); };
  read_work_orders(text_source(one), {}, vocabulary, sinks, [&](const WorkOrder& order) {
    const Job row = job_of(order, vocabulary, lift(), 0);
    const auto [at, added] = read.emplace(row.id, row);
    if (!added) add_row(at->second, row);
  });
  for (const Job& job : first) {
    if (job.findings.empty() && job.sound.empty()) continue;  // nothing was opened: no row
    REQUIRE(read.contains(job.id));
    const Job& back = read.at(job.id);
    CHECK(back.complaint == job.complaint);
    CHECK(back.evidence.size() == job.evidence.size());
    CHECK(back.sound == job.sound);
    CHECK(back.findings == job.findings);
    CHECK(back.closed == job.closed);
  }
}

}  // namespace priors_learning
