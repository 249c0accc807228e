// What sizes and limits make of the network: states of failure modes, links of sets, matrices.
#include <boost/math/distributions/normal.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <map>
#include <string>

#include "core/diagnosis/sizes.h"
#include "core/error.h"
#include "tests/unit/simpson.h"

using namespace faultodds;
using namespace faultodds::diagnosis;
using circuit::EffectLimits;
using circuit::GradeDistribution;
using circuit::ModeSize;
using circuit::ModeState;
using circuit::SizeLaw;

namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr GradeDistribution kPrior{0.94, 0.04, 0.02};
const ModeSize kSeat{SizeLaw::orifice, {{{0.3, 1}, {30, 1}, {1000, 1}}}};
const ModeSize kLand{SizeLaw::laminar, {{{4, 1.2}, {30, 1}, {1000, 1}}}};
const ModeSize kChoke{SizeLaw::loss, {{{0, 1}, {12, 0.6}, {50, 0.5}}}};

double cdf(const ModeSize::OfGrade& of, double size) {
  return size > 0
             ? boost::math::cdf(boost::math::normal(std::log(of.median), of.spread), std::log(size))
             : 0;
}

std::vector<ModeState> of_grade(const std::vector<ModeState>& states, int grade) {
  std::vector<ModeState> out;
  for (const ModeState& state : states) {
    if (state.grade == grade) out.push_back(state);
  }
  return out;
}

std::vector<double> inner_ends(const std::vector<ModeState>& states) {
  std::vector<double> out;
  for (std::size_t i = 1; i < states.size(); ++i) out.push_back(states[i].low);
  return out;
}

circuit::FailureMode mode(const ModeSize& size, std::vector<ModeState> states) {
  circuit::FailureMode out;
  out.size = size;
  out.prior = kPrior;
  out.states = std::move(states);
  return out;
}

circuit::Observation hold(std::vector<circuit::ModeSet> sets) {
  circuit::Observation out;
  out.id = "static/valve.a";
  out.outcomes = {"held", "bled_down", "would_not_build"};
  out.matrix = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
  out.sets = std::move(sets);
  return out;
}

circuit::ModeSet solved(std::vector<std::uint32_t> modes, double first, double second) {
  circuit::ModeSet out;
  out.modes = std::move(modes);
  out.shown_from = {{1, {first, second}}};
  return out;
}

// P(what is measured exceeds `limit`), by Simpson's rule over the effect itself.
double measured_above(const EffectLimits& limits, double limit, double low, double high) {
  const bool share = limits.unit == EffectLimits::Unit::percent;
  const boost::math::normal standard;
  const auto integrand = [&](double effect) {
    const double shown = effect + limits.floor;
    const double variance =
        share ? 9 : 0.09 * shown * shown + limits.resolution * limits.resolution;
    const double more =
        boost::math::cdf(boost::math::complement(standard, (limit - shown) / std::sqrt(variance)));
    return more / (effect * std::log(high / low));
  };
  return simpson(integrand, low, high);
}

}  // namespace

TEST_CASE("The shares of the states of each grade sum to one", "[sizes]") {
  for (const ModeSize& size : {kSeat, kLand, kChoke}) {
    for (const std::vector<double>& limits :
         {std::vector<double>{}, {0.5}, {3, 5, 40, 100, 600}, {1, 4, 16, 64, 256, 1024, 4096}}) {
      const std::vector<ModeState> states = mode_states(size, kPrior, limits);
      std::map<int, double> sums;
      std::size_t last = 0;
      for (const ModeState& state : states) {
        CHECK(state.grade >= last);
        last = state.grade;
        CHECK(state.share >= 0);
        sums[state.grade] += state.share;
      }
      for (int grade = 0; grade < 3; ++grade) CHECK(sums[grade] == Approx(1).epsilon(1e-14));
      CHECK(of_grade(states, 0).size() + of_grade(states, 1).size() <= kMostBandsAndClasses);
    }
  }
}

TEST_CASE("A sound seat far below every limit is one state", "[sizes]") {
  // Its 95 % quantile is 1.55 mL/min.
  CHECK(of_grade(mode_states(kSeat, kPrior, {3.2}), 0).size() == 1);
  CHECK(of_grade(mode_states(kSeat, kPrior, {}), 0).size() == 1);
  CHECK(of_grade(mode_states(kSeat, kPrior, {3.0}), 0).size() > 1);
}

TEST_CASE("A sound spool that limits reach is in bands that end there, none above 40 %",
          "[sizes]") {
  const auto bands = of_grade(mode_states(kLand, kPrior, {6, 24}), 0);
  CHECK(bands.size() <= kMostBands);
  const std::vector<double> ends = inner_ends(bands);
  CHECK(std::count_if(ends.begin(), ends.end(), [](double end) {
          return end == Approx(6).epsilon(1e-12) || end == Approx(24).epsilon(1e-12);
        }) == 2);
  for (std::size_t i = 0; i < bands.size(); ++i) {
    CHECK(bands[i].share <= 0.4);
    const double below = i == 0 ? 0 : cdf(kLand.of_grade[0], bands[i].low);
    const double to = i + 1 == bands.size() ? 1 : cdf(kLand.of_grade[0], bands[i].high);
    CHECK(bands[i].share == Approx(to - below).epsilon(1e-12));
  }
  CHECK(cdf(kLand.of_grade[0], bands.front().low) == Approx(0.01));
  CHECK(cdf(kLand.of_grade[0], bands.back().high) == Approx(0.99));
  // Reached by a limit that lies beyond its 95 % quantile, 29 mL/min: quarters.
  for (const ModeState& band : of_grade(mode_states(kLand, kPrior, {30}), 0)) {
    CHECK(band.share == Approx(0.25));
  }
}

TEST_CASE("Classes of what is not sound end at the limits, and both grades share them", "[sizes]") {
  const auto states = mode_states(kSeat, kPrior, {10, 100, 900});
  const auto worn = of_grade(states, 1), failed = of_grade(states, 2);
  const std::vector<double> ends = inner_ends(worn);
  REQUIRE(ends.size() == 3);
  CHECK(ends[0] == Approx(10).epsilon(1e-12));
  CHECK(ends[1] == Approx(100).epsilon(1e-12));
  CHECK(ends[2] == Approx(900).epsilon(1e-12));
  REQUIRE(failed.size() == worn.size());
  for (std::size_t i = 0; i < worn.size(); ++i) {
    CHECK(failed[i].low == worn[i].low);
    CHECK(failed[i].high == worn[i].high);
  }
  CHECK(worn[0].share == Approx(cdf(kSeat.of_grade[1], 10)).epsilon(1e-12));
  CHECK(failed[3].share == Approx(1 - cdf(kSeat.of_grade[2], 900)).epsilon(1e-12));
  CHECK(cdf(kSeat.of_grade[1], worn[0].low) == Approx(0.01));
  CHECK(cdf(kSeat.of_grade[2], worn[3].high) == Approx(0.99));
}

TEST_CASE("Limits within a factor of two are one, at the mean of their logarithms", "[sizes]") {
  const std::vector<double> merged = merged_limits({10, 15, 19, 21, 100});
  REQUIRE(merged.size() == 3);
  CHECK(merged[0] == Approx(std::cbrt(2850.0)));
  CHECK(merged[1] == Approx(21));
  CHECK(merged[2] == Approx(100));
  CHECK(merged_limits({10, 30, 60}) == std::vector<double>{10, 30, 60});
  CHECK(merged_limits({}).empty());
}

TEST_CASE("A class is not cut where it has hardly anything on one side", "[sizes]") {
  const auto worn = of_grade(mode_states(kSeat, kPrior, {4, 15000}), 1);
  CHECK(worn.size() ==
        1);  // 1.5 % of worn and failed seats leak less than 4, hardly one more than 15000
}

TEST_CASE("With more limits than states the heaviest classes are cut, and the rest is named",
          "[sizes]") {
  const std::vector<double> limits = {8, 20, 50, 130, 330, 800, 2000, 5000, 12};
  std::vector<double> ascending = limits;
  std::sort(ascending.begin(), ascending.end());
  const ModeSize broad{SizeLaw::orifice, {{{0.3, 1}, {30, 2}, {1000, 2}}}};
  const auto states = mode_states(broad, kPrior, ascending);
  CHECK(of_grade(states, 1).size() == kMostBandsAndClasses - 1);
  const auto unsplit = unsplit_limits(broad, kPrior, ascending, states);
  CHECK_FALSE(unsplit.empty());
  for (const double limit : unsplit) {
    for (const double end : inner_ends(of_grade(states, 1))) CHECK(limit != Approx(end));
  }
  const auto roomy = mode_states(kSeat, kPrior, {10, 100, 900});
  CHECK(unsplit_limits(kSeat, kPrior, {10, 100, 900}, roomy).empty());
}

TEST_CASE("A loss has one sound state of no size, and its classes end at the whole flow",
          "[sizes]") {
  const auto states = mode_states(kChoke, kPrior, {10, 60});
  const auto sound = of_grade(states, 0), failed = of_grade(states, 2);
  REQUIRE(sound.size() == 1);
  CHECK(sound[0].low == 0);
  CHECK(sound[0].high == 0);
  CHECK(exceeds(kChoke, sound[0], 1e-9) == 0);
  CHECK(failed.back().high == 100);
  CHECK(failed.back().share == Approx(1 - cdf(kChoke.of_grade[2], 60)).epsilon(1e-12));
  CHECK(exceeds(kChoke, failed.back(), 100) == 0);
}

TEST_CASE("What lies on one side of a size exceeds it surely or never", "[sizes]") {
  for (const ModeState& state : mode_states(kLand, kPrior, {6, 24, 300})) {
    CHECK(exceeds(kLand, state, state.low) == 1);
    CHECK(exceeds(kLand, state, state.low / 2) == 1);
    CHECK(exceeds(kLand, state, state.high) == 0);
    CHECK(exceeds(kLand, state, kInfinity) == 0);
    CHECK(exceeds(kLand, state, 0) == 1);
  }
}

TEST_CASE("Within a band the truncated log-normal counts, within a class the log-uniform",
          "[sizes]") {
  const ModeState band{0, 0.4, 3, 9}, leak{1, 0.4, 10, 1000};
  const ModeSize::OfGrade& sound = kLand.of_grade[0];
  CHECK(exceeds(kLand, band, 5) ==
        Approx((cdf(sound, 9) - cdf(sound, 5)) / (cdf(sound, 9) - cdf(sound, 3))).epsilon(1e-12));
  CHECK(exceeds(kLand, leak, 100) == Approx(0.5).epsilon(1e-12));
  double before = 1;
  for (double least = 1; least < 2000; least *= 1.1) {
    const double now = exceeds(kLand, leak, least);
    CHECK(now <= before);
    before = now;
  }
}

TEST_CASE("A link holds what each state exceeds at each level of the load", "[sizes]") {
  const auto seat = mode(kSeat, mode_states(kSeat, kPrior, {10, 100}));
  const auto land = mode(kLand, mode_states(kLand, kPrior, {10, 100}));
  const std::vector<circuit::ShownFrom> from = {{0.25, {10, 100}}, {0.5, {5, 50}}, {0.25, {2, 20}}};
  const auto link = set_link(from, {&seat, &land});
  REQUIRE(link.weight == std::vector<double>{0.25, 0.5, 0.25});
  REQUIRE(link.exceeds.size() == 2);
  for (std::size_t i = 0; i < 2; ++i) {
    const circuit::FailureMode& of = i == 0 ? seat : land;
    REQUIRE(link.exceeds[i].size() == 6 * of.states.size());
    for (std::size_t l = 0; l < 3; ++l) {
      for (std::size_t t = 0; t < 2; ++t) {
        for (std::size_t s = 0; s < of.states.size(); ++s) {
          CHECK(link.exceeds[i][(2 * l + t) * of.states.size() + s] ==
                exceeds(of.size, of.states[s], from[l].size[t]));
        }
      }
    }
  }
}

TEST_CASE("Levels at which a set shows the same are one", "[sizes]") {
  const auto seat = mode(kSeat, mode_states(kSeat, kPrior, {10}));
  const auto link = set_link({{0.2, {kInfinity, kInfinity}},
                              {0.1, {1e6, kInfinity}},
                              {0, {7, 8}},
                              {0.3, {10, 1e7}},
                              {0.4, {10, kInfinity}}},
                             {&seat});
  REQUIRE(link.weight.size() == 2);
  CHECK(link.weight[0] == Approx(0.3));
  CHECK(link.weight[1] == Approx(0.7));
  for (std::size_t s = 0; s < 2 * seat.states.size(); ++s) CHECK(link.exceeds[0][s] == 0);
}

TEST_CASE("The limits of a mode are those of the smallest sets it is in, at the median load",
          "[sizes]") {
  circuit::Analysis analysis;
  analysis.modes = {mode(kSeat, {}), mode(kSeat, {}), mode(kSeat, {})};
  auto first = hold({solved({0, 1}, 2, 20), solved({0}, 5, 50)});
  first.sets[1].shown_from = {{0.4, {9, kInfinity}}, {0.2, {7, 70}}, {0.4, {5, 50}}};
  auto withheld = hold({solved({1}, 1, 3)});
  withheld.withheld = circuit::NotProposed{};
  circuit::ModeSet by_grades;
  by_grades.modes = {2};
  analysis.observations = {first, withheld, hold({solved({1}, 40, kInfinity), by_grades})};
  const auto limits = limits_of_modes(analysis);
  CHECK(limits[0] == std::vector<double>{7, 70});
  CHECK(limits[1] == std::vector<double>{2, 20, 40});
  CHECK(limits[2].empty());
}

TEST_CASE("What is only reported sets limits for modes that show nowhere else", "[sizes]") {
  circuit::Analysis analysis;
  analysis.modes = {mode(kSeat, {}), mode(kSeat, {})};
  auto noisy = hold({solved({0}, 5, 25), solved({1}, 5, 25)});
  noisy.id = "noisy/pump";
  noisy.kind = circuit::ObservationKind::symptom;
  analysis.observations = {noisy, hold({solved({0}, 10, 60)})};
  const auto limits = limits_of_modes(analysis);
  // Merged with 5 the limit of 10 would be 7, and what loses 8 on neither side of it.
  CHECK(limits[0] == std::vector<double>{10, 60});
  CHECK(limits[1] == std::vector<double>{5, 25});
}

TEST_CASE("Only modes of solved sets have states, only solved sets links", "[sizes]") {
  circuit::Analysis analysis;
  analysis.modes = {mode(kSeat, {}), mode(ModeSize{}, {})};
  circuit::ModeSet by_grades;
  by_grades.modes = {1};
  analysis.observations = {hold({solved({0}, 5, 50), by_grades})};
  size_up(analysis);
  CHECK_FALSE(analysis.modes[0].states.empty());
  CHECK(analysis.modes[1].states.empty());
  CHECK(analysis.observations[0].sets[0].link.weight.size() == 1);
  CHECK(analysis.observations[0].sets[1].link.weight.empty());
  CHECK(analysis.observations[0].matrix[0] == std::vector<double>{1, 0, 0});  // it has no limits

  analysis.observations[0].sets[1].shown_from = {{1, {5, 50}}};
  CHECK_THROWS_AS(size_up(analysis), Error);  // the second mode has no sizes
}

TEST_CASE("Sizing up twice changes nothing", "[sizes]") {
  circuit::Analysis analysis;
  analysis.modes = {mode(kSeat, {}), mode(kLand, {})};
  analysis.observations = {hold({solved({0, 1}, 5, 50)})};
  analysis.observations[0].limits = EffectLimits{EffectLimits::Unit::ml_per_min, 6, 94, 0, 0.5, {}};
  size_up(analysis);
  const circuit::Analysis once = analysis;
  size_up(analysis);
  CHECK(analysis.observations[0].matrix == once.observations[0].matrix);
  CHECK(analysis.observations[0].sets[0].link.exceeds == once.observations[0].sets[0].link.exceeds);
  CHECK(analysis.modes[1].states.size() == once.modes[1].states.size());
}

TEST_CASE("A matrix that a circuit or pack gives is left as it is", "[sizes]") {
  circuit::Analysis analysis;
  analysis.observations = {hold({}), hold({})};
  for (circuit::Observation& one : analysis.observations) {
    one.limits = EffectLimits{EffectLimits::Unit::ml_per_min, 6, 94, 0, 0.5, {}};
  }
  analysis.observations[1].matrix_is_own = true;
  size_up(analysis);
  CHECK(analysis.observations[0].matrix[0][0] < 1);
  CHECK(analysis.observations[1].matrix[0] == std::vector<double>{1, 0, 0});
}

TEST_CASE("Outcome matrices agree with Simpson's rule", "[sizes]") {
  using Unit = EffectLimits::Unit;
  for (const EffectLimits& limits : {EffectLimits{Unit::ml_per_min, 6, 94, 0, 0.5, {}},
                                     EffectLimits{Unit::ml_per_min, 20, 119, 8, 1, {}},
                                     EffectLimits{Unit::mm_per_min, 4, 40, 0.7, 0.2, {}},
                                     EffectLimits{Unit::percent, 10, 60, 0, 0, {}},
                                     EffectLimits{Unit::percent, 10, 30, 2, 3, {}}}) {
    const auto matrix = outcome_matrix(limits);
    const double most = limits.unit == Unit::percent ? 100 : 10 * limits.second;
    const double top = std::min(most, 10 * limits.second);
    const double ends[] = {limits.first / 100, limits.first, limits.second, top};
    REQUIRE(matrix.size() == 3);
    for (std::size_t s = 0; s < 3; ++s) {
      const double first = measured_above(limits, limits.first, ends[s], ends[s + 1]);
      const double second = measured_above(limits, limits.second, ends[s], ends[s + 1]);
      const double seen[] = {1 - first, first - second, second};
      for (std::size_t o = 0; o < 3; ++o) {
        CHECK(std::abs(matrix[s][o] - (0.98 * seen[o] + 0.01 * (1 - seen[o]))) < 1e-9);
      }
    }
  }
}

TEST_CASE("A fine instrument leaves the limits alone between the classes", "[sizes]") {
  // 0.01 % of full flow: all but blunders and what lies within it of a limit is told apart.
  const auto matrix = outcome_matrix({EffectLimits::Unit::percent, 10, 60, 0, 0.01, {}});
  for (std::size_t s = 0; s < 3; ++s) CHECK(matrix[s][s] == Approx(0.98).margin(5e-4));
}

TEST_CASE("The higher its limits, the more often a leak is let pass", "[sizes]") {
  double before = 0;
  for (double limit = 2; limit < 60; limit *= 1.3) {
    const EffectLimits limits{EffectLimits::Unit::ml_per_min, limit, 94, 1, 0.5, {}};
    const double held = outcome_probabilities(limits, 5, 50)[0];
    CHECK(held > before);
    before = held;
  }
}

TEST_CASE("Limits that part nothing are an internal error", "[sizes]") {
  CHECK_THROWS_AS(outcome_matrix({EffectLimits::Unit::ml_per_min, 10, 10, 0, 0, {}}), Error);
  CHECK_THROWS_AS(outcome_matrix({EffectLimits::Unit::percent, 10, 100, 0, 0, {}}), Error);
}
