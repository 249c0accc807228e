// Leak-rate bands learned from confirmed outcomes.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <vector>

#include "capi/documents/learned_pack.h"
#include "capi/documents/pack_reader.h"
#include "capi/documents/prior_tasks.h"
#include "core/error.h"
#include "priors/generator.h"
#include "priors/leak_rates.h"
#include "priors/learning.h"
#include "priors/work_order_rows.h"
#include "tests/unit/lift_fleet.h"

namespace priors_leak_rates {

using namespace faultodds;
using namespace faultodds::priors;
using Catch::Contains;
using circuit::ObservationKind;
using documents::parse_json;
using lift_fleet::lift;
using lift_fleet::truth;

namespace {

constexpr double millilitres_per_minute = 1e-6 / 60;  // m3/s

std::map<ModeName, Dirichlet> judgement() {
  std::map<ModeName, Dirichlet> j;
  for (const auto& [name, grades] : truth()) {
    j[name] = {{20 * grades[0], 20 * grades[1], 20 * grades[2]}};
  }
  return j;
}

struct Bands {
  std::array<double, 3> median, sigma;
};

// Not what the circuit's defaults say (0.5, 30, 1000 mL/min; 1.2, 1, 1).
const Bands real_bands{{1.0, 50, 1500}, {0.9, 0.8, 0.7}};

// Generated records whose static tests were read as leak rates of `bands`.
std::vector<Job> rated_jobs(int count, std::uint64_t seed, const Bands& bands) {
  GeneratorOptions options;
  options.seed = seed;
  options.ambiguous = 0;
  Generator generator(lift(), truth(), options);
  Random random(seed + 1000);
  std::vector<Job> jobs;
  for (int i = 0; i < count; ++i) {
    Job job = generator.next();
    for (diagnosis::Evidence& e : job.evidence) {
      const circuit::Observation& observation = lift().observations[e.observation];
      if (observation.kind != ObservationKind::static_hold) continue;
      int grade = 0;
      for (const circuit::ModeSet& set : observation.sets) {
        int least = 2;
        for (std::uint32_t m : set.modes) least = std::min(least, generator.grades()[m]);
        grade = std::max(grade, least);
      }
      const double other = random.uniform();
      if (other >= observation.background[0]) grade = std::max(grade, 1);
      if (other >= observation.background[0] + observation.background[1]) grade = 2;
      const auto g = static_cast<std::size_t>(grade);
      const double z = normal_quantile(std::clamp(random.uniform(), 1e-12, 1 - 1e-12));
      e.outcome.reset();
      e.reading.emplace();
      e.reading->leak_rate =
          bands.median[g] * std::exp(bands.sigma[g] * z) * millilitres_per_minute;
    }
    jobs.push_back(std::move(job));
  }
  return jobs;
}

const LeakRateKey static_tests{ObservationKind::static_hold, ""};

LeakRateSums sums_of(const std::vector<double>& rates) {
  LeakRateSums sums;
  for (double rate : rates) sums.add(std::log(rate), 1);
  return sums;
}

}  // namespace

TEST_CASE("the posterior of a band and its intervals are SciPy's") {
  // SciPy 1.17.1: stats.t(nu, m, s/sqrt(k)).interval(.9) and stats.invgamma(nu/2, scale=nu*s*s/2)
  // .interval(.9), after the normal-inverse-gamma update of median 30, sigma 1, worth 5.
  const LogNormalPosterior p = posterior_of(30, 1, 5, sums_of({12, 25, 31, 40, 58, 90}));
  CHECK(p.median() == Approx(32.794558791679094).epsilon(1e-6));
  CHECK(p.sigma() == Approx(0.8263259865536626).epsilon(1e-6));
  CHECK(p.median_interval().lower == Approx(20.96436115383356).epsilon(1e-6));
  CHECK(p.median_interval().upper == Approx(51.300541831403834).epsilon(1e-6));
  CHECK(p.sigma_interval().lower == Approx(0.6178582706506861).epsilon(1e-6));
  CHECK(p.sigma_interval().upper == Approx(1.2813302415170882).epsilon(1e-6));
}

TEST_CASE("without readings a band stays what it was, to the last digit") {
  LeakRateStatistics none;
  none.median = {0.5, 30, 1000};
  none.sigma = {1.2, 1.0, 1.0};
  const LeakRateBands bands = bands_of(none);
  CHECK(bands.median == none.median);
  CHECK(bands.sigma == none.sigma);
  CHECK(bands.in_order);
}

TEST_CASE("medians that do not rise with the grade leave the bands as they were") {
  LeakRateStatistics odd;
  odd.median = {0.5, 30, 1000};
  odd.sigma = {1.2, 1.0, 1.0};
  for (int i = 0; i < 100; ++i) odd.grades[1].add(std::log(5000.0), 1);
  const LeakRateBands bands = bands_of(odd);
  CHECK_FALSE(bands.in_order);
  CHECK(bands.posterior[1].median() > 1000);
  CHECK(bands.median == odd.median);
  CHECK(bands.sigma == odd.sigma);
}

TEST_CASE("sums of leak rates are the same in any order, exactly") {
  std::vector<double> rates;
  Random random(3);
  for (int i = 0; i < 500; ++i) rates.push_back(std::exp(8 * random.uniform() - 1));
  const LeakRateSums forth = sums_of(rates);
  LeakRateSums parts = sums_of({rates.begin() + 200, rates.end()});
  parts.add(sums_of({rates.begin(), rates.begin() + 200}));
  CHECK(parts == forth);
  CHECK(forth.readings() == 500);
}

TEST_CASE("leak-rate bands of a fleet are recovered inside their intervals") {
  int inside = 0, of = 0;
  for (std::uint64_t seed = 1; seed <= 8; ++seed) {
    const LeakRates rates =
        confirmed_by({lift()}, rated_jobs(400, seed, real_bands), judgement()).leak_rates;
    const LeakRateBands bands = bands_of(rates.at(static_tests));
    CHECK(bands.in_order);
    for (std::size_t g = 0; g < 3; ++g) {
      const LogNormalPosterior& p = bands.posterior[g];
      CHECK(bands.readings[g] > 20);
      CHECK(std::abs(std::log(p.median() / real_bands.median[g])) < 0.5);
      CHECK(std::abs(std::log(p.sigma() / real_bands.sigma[g])) < 0.3);
      const auto holds = [&](const Interval& i, double x) {
        ++of;
        inside += i.lower <= x && x <= i.upper ? 1 : 0;
      };
      holds(p.median_interval(), real_bands.median[g]);
      holds(p.sigma_interval(), real_bands.sigma[g]);
    }
  }
  // 48 intervals of 90 %: 38 or more inside with probability 0.99, were they independent.
  CHECK(of == 48);
  CHECK(inside >= 38);
}

TEST_CASE("leak rates of parts of the records add up to those of all of them") {
  const std::vector<Job> all = rated_jobs(60, 9, real_bands);
  const std::vector<Job> north(all.begin(), all.begin() + 25), south(all.begin() + 25, all.end());
  LeakRates merged = confirmed_by({lift()}, south, judgement()).leak_rates;
  add(merged, confirmed_by({lift()}, north, judgement()).leak_rates);
  const LeakRates pooled = confirmed_by({lift()}, all, judgement()).leak_rates;
  REQUIRE(pooled.contains(static_tests));
  CHECK(merged == pooled);
}

TEST_CASE("orders that say the same reading count once each, however they are written") {
  std::vector<Job> once = rated_jobs(60, 9, real_bands);
  const LeakRates single = confirmed_by({lift()}, once, judgement()).leak_rates;
  LeakRates thrice = single;
  for (int i = 0; i < 2; ++i) add(thrice, single);
  std::vector<Job> repeated;
  for (int i = 0; i < 3; ++i) repeated.insert(repeated.end(), once.begin(), once.end());
  CHECK(confirmed_by({lift()}, repeated, judgement()).leak_rates == thrice);
  for (Job& job : once) job.orders = 3;
  CHECK(confirmed_by({lift()}, once, judgement()).leak_rates == thrice);
}

TEST_CASE("a reading whose grade the findings leave open is not counted") {
  std::vector<Job> jobs = rated_jobs(40, 4, real_bands);
  for (Job& job : jobs) {
    job.findings.clear();
    job.sound.clear();
    // Of the evidence only one static reading is left: nothing says what it saw.
    std::erase_if(job.evidence, [&](const diagnosis::Evidence& e) { return !e.reading; });
    if (job.evidence.size() > 1) job.evidence.resize(1);
    job.complaint.reset();
  }
  std::map<ModeName, Dirichlet> unsure;
  for (const auto& [name, unused] : truth()) unsure[name] = {{1, 1, 1}};
  CHECK(confirmed_by({lift()}, jobs, unsure).leak_rates.empty());
}

TEST_CASE("of a rate below what could be read, or read twice, no band is learned") {
  const std::vector<Job> all = rated_jobs(60, 9, real_bands);
  std::vector<Job> below = all, twice = all;
  for (std::size_t i = 0; i < all.size(); ++i) {
    for (const diagnosis::Evidence& e : all[i].evidence) {
      if (e.reading) twice[i].evidence.push_back(e);
    }
    for (diagnosis::Evidence& e : below[i].evidence) {
      if (!e.reading) continue;
      e.reading->below = e.reading->leak_rate;
      e.reading->leak_rate.reset();
    }
  }
  REQUIRE(!confirmed_by({lift()}, all, judgement()).leak_rates.empty());
  CHECK(confirmed_by({lift()}, below, judgement()).leak_rates.empty());
  CHECK(confirmed_by({lift()}, twice, judgement()).leak_rates.empty());
}

TEST_CASE("bands judged differently are not added up") {
  LeakRateStatistics one, two;
  one.median = two.median = {0.5, 30, 1000};
  one.sigma = two.sigma = {1.2, 1.0, 1.0};
  two.worth = 50;
  CHECK_THROWS_WITH(one.add(two), Contains("expected the same ones"));
  two = one;
  two.median[2] = 1200;
  CHECK_THROWS_WITH(one.add(two), Contains("expected the same ones"));
  two = one;
  two.sigma[0] = 1;
  CHECK_THROWS_WITH(one.add(two), Contains("expected the same ones"));
}

// ---- documents ----------------------------------------------------------------------------------

namespace {

const std::string tilt = R"({
    "format": "faultodds-circuit/1", "id": "tilt", "title": "Tilt",
    "types": {
      "ram": {"ports": ["cap", "rod"],
        "elements": {"piston": {"kind": "seal", "from": "cap", "to": "rod"}},
        "failure_modes": {
          "piston_leak": {"code": "INL", "leaks": "piston", "prior": [0.9, 0.07, 0.03]}},
        "actuator": {"directions": {"retract": ["cap", "rod"]}}},
      "relief": {"ports": ["in", "out"], "cartridge": true, "parameters": ["setting"],
        "elements": {"poppet": {"kind": "relief", "from": "in", "to": "out"}},
        "failure_modes": {
          "seat_leak": {"code": "INL", "leaks": "poppet", "prior": [0.93, 0.045, 0.025]}}}},
    "components": [{"id": "ram", "type": "ram"},
                   {"id": "relief", "type": "relief", "setting": "175 bar"}],
    "connections": [{"from": "relief.in", "to": "ram.cap", "line": "hose"},
                    {"from": "relief.out", "to": "tank"}]})";

// Orders in which the relief cartridge was found as its leak rate says, numbered from `first`.
std::string orders(int first, int count) {
  std::string text =
      "work_order,closed,component,position,finding,grade,complaint,tests,asset_class\n";
  for (int i = first; i < first + count; ++i) {
    text += std::to_string(i) + ",2024-03-" + std::to_string(10 + i % 20) + ",relief,relief,";
    const bool failed = i % 2 == 0;
    text += failed ? "seat_leak,failed" : "seat_leak,worn";
    text += ",,static/relief.in=" + std::to_string(failed ? 1400 + 7 * i : 50 + i) + " mL/min,\n";
  }
  return text;
}

documents::LearnedRecords learned(const std::string& source, const std::string& csv,
                                  bool through_circuit = false, const std::string& circuit = tilt) {
  documents::LearnRequest request;
  request.through_circuit = through_circuit;
  request.orders = text_source(csv);
  request.circuit = circuit;
  request.source = source;
  request.learn_outcomes = true;
  return documents::learn_from_records(std::move(request));
}

}  // namespace

TEST_CASE("packs with leak rates merge to what the pooled records give") {
  const auto reread = [](const PriorPack& pack) {
    return documents::read_prior_pack(parse_json(documents::write_prior_pack(pack)), 20);
  };
  const PriorPack north = learned("north", orders(0, 30)).pack;
  const PriorPack south = learned("south", orders(30, 20)).pack;
  const PriorPack pooled = learned("both", orders(0, 50)).pack;
  const PriorPack merged = merge(reread(north), reread(south));
  REQUIRE(pooled.leak_rates.contains(static_tests));
  CHECK(bands_of(pooled.leak_rates.at(static_tests)).readings[2] > 20);
  CHECK(merged.leak_rates == pooled.leak_rates);
  CHECK(!pooled.learned_sizes.empty());
  CHECK(merged.learned_sizes == pooled.learned_sizes);
  CHECK(merged.estimates == pooled.estimates);
  CHECK(documents::write_prior_pack(reread(merged)) == documents::write_prior_pack(merged));
}

TEST_CASE("packs that state different sizes are not merged") {
  PriorPack north = learned("north", orders(0, 30)).pack,
            south = learned("south", orders(30, 20)).pack;
  north.sizes.push_back(
      {"relief", "seat_leak", {circuit::SizeLaw::orifice, {{{1, 1}, {30, 1}, {900, 1}}}}});
  CHECK_THROWS_WITH(merge(north, south), Contains("state different sizes"));
  south.sizes = north.sizes;
  CHECK(merge(north, south).sizes == north.sizes);
}

TEST_CASE("learning through the circuit counts the same leak rates") {
  const PriorPack through = learned("north", orders(0, 30), true).pack;
  CHECK(through.leak_rates == learned("north", orders(0, 30)).pack.leak_rates);
  // The matrices learned and the bands stand in one entry.
  const diagnosis::Pack engine = diagnosis_pack(through);
  const auto entry = std::find_if(engine.outcomes.begin(), engine.outcomes.end(),
                                  [](const auto& o) { return o.kind == static_tests.kind; });
  REQUIRE(entry != engine.outcomes.end());
  CHECK(entry->model.matrix.size() == 3);
  CHECK(entry->model.leak_sigma == bands_of(through.leak_rates.at(static_tests)).sigma);
}

TEST_CASE("sizes that a pack has learned or states are what the engine takes") {
  const PriorPack pack = learned("north", orders(0, 30)).pack;
  REQUIRE(!pack.learned_sizes.empty());
  const diagnosis::Pack engine = diagnosis_pack(pack);
  const diagnosis::Pack read = documents::read_pack(parse_json(documents::write_prior_pack(pack)));
  REQUIRE(read.sizes.size() == engine.sizes.size());
  for (std::size_t i = 0; i < read.sizes.size(); ++i) {
    CHECK(read.sizes[i].type == engine.sizes[i].type);
    CHECK(read.sizes[i].mode == engine.sizes[i].mode);
    for (std::size_t g = 0; g < 3; ++g) {
      CHECK(read.sizes[i].size.of_grade[g].median ==
            Approx(engine.sizes[i].size.of_grade[g].median).epsilon(1e-5));
      CHECK(read.sizes[i].size.of_grade[g].spread ==
            Approx(engine.sizes[i].size.of_grade[g].spread).epsilon(1e-5));
    }
  }
}

TEST_CASE("an order that the circuit cannot hold is said not to be understood, and still counted") {
  std::string csv = orders(0, 10);
  csv += "90,2024-03-12,relief,relief,seat_leak,failed,,static/nowhere=31 mL/min,\n";
  const documents::LearnedRecords read = learned("north", csv);
  CHECK(read.not_understood == 1);
  CHECK_THAT(read.first_not_understood, Contains("static/nowhere"));
  CHECK(read.orders.used == 11);
  CHECK(read.pack.leak_rates == learned("north", orders(0, 10)).pack.leak_rates);
}

TEST_CASE("an order that leaves too much open teaches no leak rate and is said to") {
  // Two reliefs, and an order of five lines that do not say which of them was meant.
  std::string two = tilt;
  const std::string relief = R"({"id": "relief", "type": "relief", "setting": "175 bar"})";
  two.replace(two.find(relief), relief.size(),
              relief + R"(, {"id": "spare", "type": "relief", "setting": "175 bar"})");
  const std::string rest = R"({"from": "relief.out", "to": "tank"})";
  two.replace(
      two.find(rest), rest.size(),
      rest + R"(, {"from": "spare.in", "to": "ram.rod"}, {"from": "spare.out", "to": "tank"})");
  const std::string header = "work_order,line,closed,component,position,finding,grade,tests\n";
  const std::string plain =
      "1,1,2024-03-10,relief,relief,seat_leak,failed,static/relief.in=1500 mL/min\n"
      "2,1,2024-03-11,relief,relief,seat_leak,failed,static/relief.in=1700 mL/min\n";
  std::string open;
  for (int line = 1; line <= 5; ++line) {
    open += "90," + std::to_string(line) +
            ",2024-03-12,relief,,seat_leak,failed,static/relief.in=900 mL/min\n";
  }
  const documents::LearnedRecords all = learned("north", header + plain + open, false, two);
  CHECK(all.not_understood == 1);
  CHECK_THAT(all.first_not_understood,
             Contains("work order 90") && Contains("more than the four ambiguous findings"));
  CHECK(all.orders.used == 7);
  const documents::LearnedRecords clear = learned("north", header + plain, false, two);
  REQUIRE(!clear.pack.leak_rates.empty());
  CHECK(all.pack.leak_rates == clear.pack.leak_rates);
}

TEST_CASE("leak rates of another circuit are left out, the finding still counts") {
  const std::string header = "work_order,closed,component,position,finding,grade,tests,circuit\n";
  const std::string own =
      "1,2024-03-10,relief,relief,seat_leak,failed,static/relief.in=1500 mL/min,tilt\n";
  const std::string other =
      "2,2024-03-11,relief,relief,seat_leak,failed,static/relief.in=9000 mL/min,hoist\n";
  const documents::LearnedRecords both = learned("north", header + own + other);
  CHECK(both.not_understood == 0);
  CHECK(both.orders.used == 2);
  CHECK(both.pack.leak_rates == learned("north", header + own).pack.leak_rates);
}

TEST_CASE("the bands learned stand in the pack with intervals and where they are from") {
  const PriorPack pack = learned("north", orders(0, 40)).pack;
  const documents::Json document = parse_json(documents::write_prior_pack(pack));
  const documents::Json& entry = document.at("outcomes").at(0);
  CHECK(entry.at("kind") == "static");
  CHECK(entry.at("source") == "north");
  CHECK(entry.at("date") == "2024-03-29");
  CHECK(entry.at("interval").at("median").size() == 3);
  CHECK(entry.at("interval").at("sigma").at(2).at(0).get<double>() > 0);
  CHECK(entry.at("counts").at("leak_rates").at(2).get<double>() > 15);
  // As the engine takes them, from the document and without it.
  const diagnosis::Pack engine = documents::read_pack(document), direct = diagnosis_pack(pack);
  const LeakRateBands bands = bands_of(pack.leak_rates.at(static_tests));
  REQUIRE(engine.outcomes.size() == 1);
  for (std::size_t g = 0; g < 3; ++g) {
    CHECK((*engine.outcomes[0].model.leak_median)[g] == Approx(bands.median[g]).epsilon(1e-12));
    CHECK((*direct.outcomes.at(0).model.leak_median)[g] == bands.median[g]);
  }
  CHECK(bands.median[2] > 1200);
}

TEST_CASE("a pack whose medians do not rise with the grade says that the bands before stay") {
  PriorPack pack = learned("north", orders(0, 40)).pack;
  LeakRateStatistics& rates = pack.leak_rates.at(static_tests);
  for (int i = 0; i < 100; ++i) rates.grades[1].add(std::log(5000.0), 1);
  const documents::Json document = parse_json(documents::write_prior_pack(pack));
  CHECK_THAT(document.at("outcomes").at(0).at("method").get<std::string>(),
             Contains("do not rise with the grade") && Contains("so that stays"));
}

TEST_CASE("a leak rate that makes no sense is rejected with its reason") {
  const auto rejected = [](const std::string& test) {
    std::string detail;
    ReadSinks sinks;
    sinks.reject = [&](const Reject& reject) {
      CHECK(reject.reason == Reason::impossible_rate);
      detail = reject.detail;
    };
    static const Vocabulary vocabulary{{{"relief", {{"seat_leak", "INL"}}}}};
    read_work_orders(text_source("work_order,closed,component,finding,tests\n1,2024-03-10,relief,"
                                 "seat_leak,static/relief.in=held; static/ram.cap=" +
                                 test + "\n"),
                     {}, vocabulary, sinks, [](const WorkOrder&) {});
    return detail;
  };
  CHECK_THAT(rejected("-3 mL/min"), Contains("static/ram.cap=-3 mL/min") && Contains("40 mL/min"));
  CHECK_THAT(rejected("31 bar"), Contains("static/ram.cap=31 bar"));
  CHECK_THAT(rejected("4e9 L/min"), Contains("10000 L/min"));
  CHECK(rejected("31 mL/min").empty());
  CHECK(rejected("0 mL/min").empty());
  CHECK(rejected("bled_down").empty());
  CHECK(rejected("2nd_try").empty());  // an outcome of a hand-written test may be called so
}

TEST_CASE("sums of leak rates that make no sense are refused at their place") {
  const auto refused = [](const std::string& rates, const std::string& pointer) {
    const std::string text = R"({"format":"faultodds-priors/1","id":"x","learning":{"judgements":[],
        "sources":[],"settings":{},"statistics":[],"leak_rates":[)" +
                             rates + "]}}";
    try {
      documents::read_prior_pack(parse_json(text), 20);
      FAIL_CHECK("expected a refusal at " << pointer);
    } catch (const Error& error) {
      CHECK(error.pointer() == pointer);
    }
  };
  refused("{}", "/learning/leak_rates/0");
  refused(R"({"kind":"static","median":[0,30,1000],"sigma":[1,1,1],"worth":5,"grades":[]})",
          "/learning/leak_rates/0/median/0");
  refused(R"({"kind":"static","median":[1,30,1000],"sigma":[1,1,1],"worth":5,"grades":[]})",
          "/learning/leak_rates/0/grades");
  refused(R"({"kind":"static","median":[1,30,1000],"sigma":[1,1,1],"worth":5,
              "grades":[{"count":0.5,"sum":0,"squares":0},{},{}]})",
          "/learning/leak_rates/0/grades/0/count");
  const std::string none = R"({"count":0,"sum":0,"squares":0})";
  const std::string whole = R"({"observation":"gauge/boom","median":[1,30,1000],"sigma":[1,1,1],
      "worth":5,"grades":[)" +
                            none + "," + none + "," + none + "]}";
  refused(whole + "," + whole, "/learning/leak_rates/1");
}

TEST_CASE("sizes of modes come from holds that leave one mode to leak, the sound ones included") {
  std::size_t inside = 0, sizes = 0, readings = 0;
  for (const std::uint64_t seed : {3u, 4u, 5u}) {
    const Sizes learned =
        confirmed_by({lift()}, rated_jobs(600, seed, real_bands), judgement()).sizes;
    REQUIRE(!learned.empty());
    for (const auto& [mode, statistics] : learned) {
      // Seats, at the 100 bar of a circuit that says no pressure: a rate is a size then.
      if (statistics.law != circuit::SizeLaw::orifice) continue;
      const LeakRateBands bands = bands_of(statistics.of);
      for (std::size_t g = 0; g < 3; ++g) {
        if (bands.readings[g] < 8) continue;
        INFO(mode.first << "." << mode.second << " " << g << ": " << bands.median[g]);
        readings += static_cast<std::size_t>(bands.readings[g]);
        const Interval interval = bands.posterior[g].median_interval();
        ++sizes;
        inside += interval.lower <= real_bands.median[g] && real_bands.median[g] <= interval.upper;
      }
    }
  }
  INFO(inside << " of " << sizes << ", " << readings << " readings");
  CHECK(sizes >= 6);
  CHECK(inside * 10 >= sizes * 7);  // of intervals of 90 %
}

TEST_CASE("sizes learned from parts of the records add up to the sizes from all") {
  const std::vector<Job> all = rated_jobs(300, 9, real_bands);
  const std::vector<Job> south(all.begin(), all.begin() + 120), north(all.begin() + 120, all.end());
  Sizes merged = confirmed_by({lift()}, south, judgement()).sizes;
  add(merged, confirmed_by({lift()}, north, judgement()).sizes);
  CHECK(merged == confirmed_by({lift()}, all, judgement()).sizes);
}

TEST_CASE("a size that the circuit's component gives is neither learned nor overridden by a pack") {
  circuit::Analysis own = lift();
  for (circuit::FailureMode& mode : own.modes) mode.size_is_own = true;
  CHECK(confirmed_by({own}, rated_jobs(300, 9, real_bands), judgement()).sizes.empty());
  diagnosis::Pack pack;
  const circuit::FailureMode& mode = own.modes.front();
  circuit::ModeSize other = mode.size;
  other.of_grade[0].median = 7;
  pack.sizes.push_back({mode.type, mode.name, other});
  CHECK(diagnosis::Model::compile(own, pack).analysis().modes[0].size.of_grade[0].median ==
        mode.size.of_grade[0].median);
  CHECK(diagnosis::Model::compile(lift(), pack).analysis().modes[0].size.of_grade[0].median == 7);
}

}  // namespace priors_leak_rates
