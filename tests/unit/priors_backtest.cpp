#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <map>
#include <random>
#include <string>

#include "core/diagnosis/assessment.h"
#include "core/error.h"
#include "priors/backtest.h"
#include "priors/generator.h"
#include "tests/unit/lift_fleet.h"

namespace priors_backtest {

using namespace faultodds;
using namespace faultodds::priors;
using Catch::Contains;

namespace {

const std::vector<circuit::Analysis>& circuits() {
  static const std::vector<circuit::Analysis> c{lift_fleet::lift()};
  return c;
}

using Truth = std::map<ModeName, std::array<double, 3>>;

// A fleet in which piston seals go far more often than the rest.
const Truth& truth() {
  static const Truth t{{{"pump", "wear"}, {0.97, 0.02, 0.01}},
                       {{"relief", "seat_leak"}, {0.98, 0.01, 0.01}},
                       {{"valve", "bore_wear"}, {0.985, 0.01, 0.005}},
                       {{"valve", "sticks"}, {0.98, 0.01, 0.01}},
                       {{"cylinder", "piston_seal_leak"}, {0.70, 0.15, 0.15}},
                       {{"cylinder", "rod_seal_leak"}, {0.98, 0.01, 0.01}}};
  return t;
}

diagnosis::Pack pack_of(const Truth& grades) {
  diagnosis::Pack pack;
  for (const auto& [name, p] : grades) {
    pack.priors.push_back({name.type, name.mode, "", p, std::nullopt});
  }
  return pack;
}

// What somebody judged who had never seen the fleet.
diagnosis::Pack misjudged() {
  Truth wrong = truth();
  for (auto& [name, p] : wrong) p = {0.9, 0.07, 0.03};
  wrong[{"cylinder", "piston_seal_leak"}] = {0.98, 0.01, 0.01};
  return pack_of(wrong);
}

std::vector<Job> jobs(int count, std::uint64_t seed = 3) {
  GeneratorOptions options;
  options.seed = seed;
  options.ambiguous = 0.2;
  options.fewest_tests = 4;
  options.most_tests = 8;
  Generator generator(circuits()[0], truth(), options);
  std::vector<Job> result;
  for (int i = 0; i < count; ++i) result.push_back(generator.next());
  return result;
}

bool same(const Replay& a, const Replay& b) {
  return a.job == b.job && a.log_score == b.log_score && a.rank == b.rank && a.tests == b.tests &&
         a.minutes == b.minutes;
}

}  // namespace

TEST_CASE("scores of a single forecast: (.7 .2 .1) when the first happened") {
  // Multiclass Brier and log score, computed by hand.
  CHECK(brier_score({0.7, 0.2, 0.1}, 0) == Approx(0.14));
  CHECK(log_score({0.7, 0.2, 0.1}, 0) == Approx(0.356675).epsilon(1e-6));
}

TEST_CASE("a pack that knows the fleet beats one that does not and is recommended") {
  const std::vector<Job> records = jobs(250);
  const Backtest present = backtest(circuits(), records, fixed_pack(misjudged()));
  const Backtest offered = backtest(circuits(), records, fixed_pack(pack_of(truth())));
  CHECK(offered.log_score < present.log_score);
  CHECK(offered.brier < present.brier);
  CHECK(offered.rank < present.rank);
  CHECK(offered.tests < present.tests);
  CHECK(offered.minutes < present.minutes);
  const Comparison comparison = compare(present, offered);
  CHECK(comparison.verdict == Verdict::better);
  CHECK(comparison.log_score.interval.upper < 0);
  CHECK(comparison.log_score.mean == Approx(offered.log_score - present.log_score));
}

TEST_CASE("ranking by cause bits isolates in as many tests to a tenth, in minutes to a quarter") {
  BacktestOptions slow;
  slow.ranking = Ranking::cause_bits;
  const std::vector<Job> records = jobs(250);
  const Backtest quick = backtest(circuits(), records, fixed_pack(pack_of(truth())));
  const Backtest joint = backtest(circuits(), records, fixed_pack(pack_of(truth())), slow);
  CHECK(quick.tests == Approx(joint.tests).epsilon(0.1));
  CHECK(quick.minutes == Approx(joint.minutes).epsilon(0.25));
  // What was said of the components does not depend on the ranking at all.
  CHECK(quick.log_score == joint.log_score);
}

TEST_CASE("threads do not change a replay, nor what is learned on the way") {
  const std::vector<Job> records = jobs(90);
  std::map<ModeName, Dirichlet> judgement;
  for (const auto& [name, p] : truth()) judgement[name] = {{18, 1, 1}};
  BacktestOptions options;
  const auto replayed = [&](std::size_t threads) {
    LearnOptions learn;
    learn.threads = options.threads = threads;
    return backtest(circuits(), records, relearned_pack(circuits(), records, judgement, learn, 40),
                    options);
  };
  const Backtest alone = replayed(1), together = replayed(3);
  REQUIRE(alone.jobs.size() == together.jobs.size());
  for (std::size_t i = 0; i < alone.jobs.size(); ++i) {
    CHECK(same(alone.jobs[i], together.jobs[i]));
  }
  CHECK(alone.log_score == together.log_score);
}

TEST_CASE("a sample of jobs is spread over the time and what is left out is counted") {
  const std::vector<Job> records = jobs(100);
  BacktestOptions options;
  options.most_jobs = 20;
  const Backtest whole = backtest(circuits(), records, fixed_pack(misjudged()));
  const Backtest sample = backtest(circuits(), records, fixed_pack(misjudged()), options);
  REQUIRE(sample.jobs.size() == 20);
  CHECK(sample.jobs.front().job == whole.jobs.front().job);
  CHECK(sample.jobs[10].job == whole.jobs[whole.jobs.size() / 2].job);
  CHECK(sample.not_sampled == whole.jobs.size() - 20);
}

TEST_CASE("a backtest can be cancelled") {
  BacktestOptions options;
  options.progress = [](std::size_t done) { return done < 5; };
  try {
    backtest(circuits(), jobs(20), fixed_pack(misjudged()), options);
    FAIL("expected it to be cancelled");
  } catch (const Error& error) {
    CHECK(error.code() == Code::cancelled);
  }
}

TEST_CASE("a pack that is worse is refused, with the reason") {
  const std::vector<Job> records = jobs(250);
  const Backtest present = backtest(circuits(), records, fixed_pack(pack_of(truth())));
  const Backtest offered = backtest(circuits(), records, fixed_pack(misjudged()));
  const Comparison comparison = compare(present, offered);
  CHECK(comparison.verdict == Verdict::worse);
  CHECK_THAT(comparison.because, Contains("worse"));
}

TEST_CASE("a pack against itself cannot be told apart") {
  const Backtest once = backtest(circuits(), jobs(40), fixed_pack(misjudged()));
  const Comparison comparison = compare(once, once);
  CHECK(comparison.verdict == Verdict::cannot_tell);
  CHECK(comparison.log_score.mean == 0);
  CHECK(comparison.because == "the jobs replayed do not tell it from the present pack, on " +
                                  std::to_string(once.jobs.size()) + " jobs");
}

TEST_CASE("a relearned pack knows only orders closed before the day") {
  const std::vector<Job> records = jobs(60);
  std::map<ModeName, Dirichlet> judgement;
  for (const auto& [name, p] : truth()) judgement[name] = {{18, 1, 1}};
  const PackOnDay pack = relearned_pack(circuits(), records, judgement, {}, 10);
  // Before the first order was closed there is judgement only.
  const auto first = pack(*records[0].opened);
  for (const diagnosis::PackPrior& prior : first->priors) {
    CHECK((*prior.grades)[0] == Approx(0.9));
  }
  const auto later = pack(Date{records.back().closed.days + 1});
  CHECK(later != first);
}

TEST_CASE("what happens after a job changes nothing in its replay") {
  std::vector<Job> records = jobs(60);
  std::map<ModeName, Dirichlet> judgement;
  for (const auto& [name, p] : truth()) judgement[name] = {{18, 1, 1}};
  const Backtest before =
      backtest(circuits(), records, relearned_pack(circuits(), records, judgement, {}, 10));
  std::vector<Job> changed = records;
  for (std::size_t i = 40; i < changed.size(); ++i) changed[i].findings = changed[0].findings;
  for (std::size_t i = 40; i < changed.size(); ++i) changed[i].sound = changed[0].sound;
  const Backtest after =
      backtest(circuits(), changed, relearned_pack(circuits(), changed, judgement, {}, 10));
  // Jobs opened before the first changed one.
  std::size_t compared = 0;
  for (std::size_t i = 0; i < before.jobs.size() && i < after.jobs.size(); ++i) {
    if (!same(before.jobs[i], after.jobs[i])) break;
    ++compared;
  }
  CHECK(compared >= 30);
}

TEST_CASE("days are asked for in order") {
  std::vector<Date> days;
  const auto pack = std::make_shared<const diagnosis::Pack>(misjudged());
  std::vector<Job> records = jobs(30);
  std::reverse(records.begin(), records.end());
  backtest(circuits(), records, [&](Date day) {
    days.push_back(day);
    return pack;
  });
  CHECK(std::is_sorted(days.begin(), days.end()));
}

TEST_CASE("what the true odds forecast is found as often as forecast") {
  const std::vector<Job> records = jobs(400, 15);
  const Backtest result = backtest(circuits(), records, fixed_pack(pack_of(truth())));
  REQUIRE(result.calibration.size() >= 3);
  std::size_t count = 0, off = 0;
  for (const CalibrationBin& bin : result.calibration) {
    CAPTURE(bin.predicted, bin.found, bin.count);
    CHECK(bin.low <= bin.predicted);
    CHECK(bin.predicted <= bin.high);
    if (bin.predicted < bin.interval.lower || bin.predicted > bin.interval.upper) ++off;
    CHECK(std::abs(bin.predicted - bin.found) < 3.5 / std::sqrt(static_cast<double>(bin.count)));
    count += bin.count;
  }
  CHECK(count > 350);
  CHECK(off <= 3);
}

TEST_CASE("a test is only revealed when it was made, and asking for others is counted") {
  const Backtest result = backtest(circuits(), jobs(60), fixed_pack(misjudged()));
  CHECK(result.unmade > 0);
  CHECK(result.asked > result.unmade);
  for (const Replay& replay : result.jobs) CHECK(replay.tests <= 8);
}

TEST_CASE("jobs without complaint, opening day or anything examined are left out and counted") {
  std::vector<Job> records = jobs(12);
  records[0].complaint.reset();
  records[1].opened.reset();
  records[2].findings.clear();
  records[2].sound.clear();
  std::size_t usable = 0;
  for (const Job& job : records) {
    const bool examined = !job.findings.empty() || !job.sound.empty();
    if (job.complaint && job.opened && examined) ++usable;
  }
  const Backtest result = backtest(circuits(), records, fixed_pack(misjudged()));
  CHECK(result.jobs.size() == usable);
  CHECK(result.left_out == records.size() - usable);
  CHECK(usable <= 9);
}

TEST_CASE("backtests of different jobs are not compared") {
  const Backtest a = backtest(circuits(), jobs(20), fixed_pack(misjudged()));
  const Backtest b = backtest(circuits(), jobs(30), fixed_pack(misjudged()));
  CHECK_THROWS_WITH(compare(a, b), Contains("same ones"));
}

namespace {

// A job of a machine with the score that each pack got, so that compare alone is tested.
void add_job(Backtest& to, const std::string& machine, double log_score) {
  Replay replay;
  replay.job = std::to_string(to.jobs.size());
  replay.machine = machine;
  replay.cause_found = true;
  replay.log_score = log_score;
  replay.tests = 2;
  replay.minutes = 20;
  to.jobs.push_back(replay);
}

}  // namespace

TEST_CASE("more tests and minutes are told, and no pack is worse for them") {
  Backtest present;
  for (int i = 0; i < 12; ++i) add_job(present, "", 0.1 * i);
  Backtest offered = present;
  for (Replay& replay : offered.jobs) {
    replay.minutes += 5;
    ++replay.tests;
  }
  const Comparison comparison = compare(present, offered);
  CHECK(comparison.verdict == Verdict::cannot_tell);
  CHECK(comparison.minutes.mean == Approx(5));
  CHECK(comparison.tests.mean == Approx(1));
}

TEST_CASE("jobs of one machine are one witness") {
  Backtest present, offered;
  for (int i = 0; i < 60; ++i) {
    const int machine = i % 3;
    add_job(present, "M" + std::to_string(machine), 1);
    // The same on every job of a machine; of three machines two say better, by different amounts.
    offered.jobs.push_back(present.jobs.back());
    offered.jobs.back().log_score += machine == 0 ? -0.6 : machine == 1 ? -0.1 : 0.1;
  }
  CHECK(compare(present, offered).verdict == Verdict::cannot_tell);
  CHECK(compare(present, offered).machines == 3);
  for (Backtest* replayed : {&present, &offered}) {
    for (Replay& replay : replayed->jobs) replay.machine.clear();
  }
  CHECK(compare(present, offered).verdict == Verdict::better);
}

TEST_CASE("the true pack is called worse in one fleet of twenty at most") {
  // Fleets of 8 to 30 machines whose faults are drawn from the true odds; the present pack is off
  // by little, which is where chance decides, or by much.
  std::mt19937 random(22);
  std::uniform_real_distribution<double> uniform(0, 1);
  std::normal_distribution<double> normal;
  for (const double off : {0.02, 0.3, 1.0}) {
    int refused = 0, recommended = 0;
    constexpr int fleets = 2000;
    for (int fleet = 0; fleet < fleets; ++fleet) {
      Backtest present, offered;
      const int machines = 8 + fleet % 23;
      const double shift = off * normal(random);
      for (int m = 0; m < machines; ++m) {
        const double machine_shift = 0.5 * off * normal(random);
        for (int j = 0; j < 6; ++j) {
          const double odds = std::exp(-1.5 + normal(random));
          const double believed = odds * std::exp(shift + machine_shift);
          const double p = odds / (1 + odds), q = believed / (1 + believed);
          const bool happened = uniform(random) < p;
          add_job(offered, "M" + std::to_string(m), -std::log(happened ? p : 1 - p));
          add_job(present, "M" + std::to_string(m), -std::log(happened ? q : 1 - q));
        }
      }
      const Verdict verdict = compare(present, offered).verdict;
      refused += verdict == Verdict::worse ? 1 : 0;
      recommended += verdict == Verdict::better ? 1 : 0;
    }
    CAPTURE(off, refused, recommended);
    // 5 %, and three standard errors of 2,000 fleets.
    CHECK(refused <= fleets * (0.05 + 3 * std::sqrt(0.05 * 0.95 / fleets)));
    if (off == 1.0) CHECK(recommended > fleets / 4);
  }
}

TEST_CASE("a better score on findings that nobody looked at recommends nothing") {
  Backtest present, offered;
  for (int i = 0; i < 40; ++i) {
    add_job(present, "", 1 + 0.01 * (i % 5));
    add_job(offered, "", 0.5);
  }
  CHECK(compare(present, offered).verdict == Verdict::better);
  CHECK(compare(present, offered, 0.8).verdict == Verdict::better);
  const Comparison booked = compare(present, offered, 0.2);
  CHECK(booked.verdict == Verdict::cannot_tell);
  CHECK_THAT(booked.because, Contains("20 %") && Contains("50 %"));
  CHECK(compare(offered, present, 0.2).verdict == Verdict::worse);
}

TEST_CASE(
    "an order that blames one of two components is ranked by the likelier, and scores neither") {
  const circuit::Analysis& lift = circuits()[0];
  const auto mode = [&](const std::string& id) {
    const auto at = std::find_if(lift.modes.begin(), lift.modes.end(),
                                 [&](const auto& one) { return one.id == id; });
    REQUIRE(at != lift.modes.end());
    return static_cast<std::uint32_t>(at - lift.modes.begin());
  };
  const auto seen = [&](const std::string& id, std::uint32_t outcome) {
    const auto at = std::find_if(lift.observations.begin(), lift.observations.end(),
                                 [&](const auto& one) { return one.id == id; });
    REQUIRE(at != lift.observations.end());
    diagnosis::Evidence e;
    e.observation = static_cast<std::uint32_t>(at - lift.observations.begin());
    e.outcome = outcome;
    return e;
  };
  Job job;
  job.id = "WO-1";
  job.opened = make_date(2024, 3, 1);
  job.closed = *make_date(2024, 3, 2);
  job.evidence = {seen("drift/boom/retract", 2), seen("static/boom.cap", 0)};
  job.complaint = job.evidence[0].observation;
  job.findings = {{{mode("valve.bore_wear"), mode("relief_a.seat_leak")}, 2}};
  job.sound = {mode("boom.piston_seal_leak"), mode("boom.rod_seal_leak")};
  const Backtest result = backtest(circuits(), {job}, fixed_pack(misjudged()));
  REQUIRE(result.jobs.size() == 1);
  const Replay& replay = result.jobs[0];
  CHECK(replay.cause_found);

  // What the engine says of each component, after the complaint and after all.
  const diagnosis::Model model = diagnosis::Model::compile(lift, misjudged());
  const auto not_sound = [&](std::size_t evidence) {
    diagnosis::Case so_far;
    so_far.evidence.assign(job.evidence.begin(),
                           job.evidence.begin() + static_cast<std::ptrdiff_t>(evidence));
    std::map<std::string, double> p;
    for (const auto& fault : diagnosis::assess(model, so_far).faults) {
      const auto at = p.emplace(lift.modes[fault.mode].component, 1.0).first;
      at->second *= fault.grades[0];
    }
    for (auto& [component, sound] : p) sound = 1 - sound;
    return p;
  };
  const auto first = not_sound(1), last = not_sound(2);
  const double likelier = std::max(first.at("valve"), first.at("relief_a"));
  const auto above = std::count_if(first.begin(), first.end(),
                                   [&](const auto& one) { return one.second > likelier + 1e-9; });
  CHECK(replay.rank == static_cast<double>(above) + 1);
  CHECK(replay.log_score == Approx(-std::log(1 - last.at("boom"))).epsilon(1e-9));
  CHECK(replay.brier == Approx(last.at("boom") * last.at("boom")).epsilon(1e-9));
}

TEST_CASE("a backtest without a circuit or a pack for an order says so") {
  std::vector<Job> records = jobs(3);
  CHECK_THROWS_WITH(
      backtest(circuits(), records, [](Date) { return std::shared_ptr<const diagnosis::Pack>(); }),
      Contains("no pack was given"));
  records[1].circuit = 7;
  CHECK_THROWS_WITH(backtest(circuits(), records, fixed_pack(misjudged())),
                    Contains(records[1].id) && Contains("its circuit is not among those given"));
}

}  // namespace priors_backtest
