// What advice sums over where no junction tree holds a circuit: complete where there are few joint
// states, else the most probable ones, and how much these leave out.
#include <catch2/catch.hpp>
#include <cmath>
#include <numeric>

#include "core/diagnosis/cause.h"
#include "core/diagnosis/cause_hypotheses.h"
#include "core/diagnosis/cure.h"
#include "core/diagnosis/hypotheses.h"
#include "core/diagnosis/repair_set.h"
#include "tests/unit/advice_enumeration.h"

using namespace advice_test;
using faultodds::diagnosis::CaseNumbers;
using faultodds::diagnosis::complained_of;
using faultodds::diagnosis::CuredShares;
using faultodds::diagnosis::CureSums;
using faultodds::diagnosis::Hypotheses;
using faultodds::diagnosis::ItemSet;
using faultodds::diagnosis::present_of;
using faultodds::diagnosis::read_case;
using faultodds::diagnosis::repair_items;
using faultodds::diagnosis::Supposition;

namespace {

std::vector<std::uint32_t> all_observations(const Analysis& analysis) {
  std::vector<std::uint32_t> all(analysis.observations.size());
  std::iota(all.begin(), all.end(), 0u);
  return all;
}

bool was_seen(const Case& the_case, std::uint32_t o) {
  return std::any_of(the_case.evidence.begin(), the_case.evidence.end(),
                     [&](const Evidence& e) { return e.observation == o; });
}

// Which sets of the complaint none of the components is in.
std::vector<bool> left_by(const Analysis& analysis, const std::vector<std::uint32_t>& complaint,
                          const std::vector<bool>& replaced) {
  std::vector<bool> left;
  for (const std::uint32_t o : complaint) {
    for (const auto& set : analysis.observations[o].sets) {
      left.push_back(std::none_of(set.modes.begin(), set.modes.end(), [&](std::uint32_t m) {
        return replaced[analysis.modes[m].component_index];
      }));
    }
  }
  return left;
}

// Forty parts in one complaint and in pairs in twenty tests, faulty with `least` and up to four
// `steps` more.
struct FortyParts {
  Machine machine;
  std::uint32_t symptom = 0;
  std::vector<std::uint32_t> tests;
};
FortyParts forty_parts(double least, double step) {
  FortyParts out;
  std::vector<std::vector<std::uint32_t>> causes;
  for (int i = 0; i < 40; ++i) {
    causes.push_back({out.machine.part("part" + std::to_string(i), least + step * (i % 5))});
  }
  const std::vector<std::vector<double>> matrix{{0.95, 0.05}, {0.1, 0.9}, {0.05, 0.95}};
  out.symptom = out.machine.observation("symptom", causes, matrix, true);
  for (std::size_t i = 0; i < 40; i += 2) {
    out.tests.push_back(
        out.machine.observation("test" + std::to_string(i), {causes[i], causes[i + 1]}, matrix));
  }
  return out;
}

}  // namespace

TEST_CASE("where hypotheses are complete, what cures and what tests show then is exact",
          "[enumerated]") {
  for (std::uint64_t seed = 0; seed < 60; ++seed) {
    const Sample sample = random_sample(seed);
    const Analysis& analysis = sample.machine.analysis;
    const Model model = sample.machine.compile();
    const CaseNumbers numbers = read_case(model, sample.the_case);
    const auto complaint = complained_of(analysis, numbers, present_of(model));
    const CureSums sums(model, numbers, complaint, all_observations(analysis));
    REQUIRE(sums.hypotheses().complete());
    const Enumeration posterior(analysis, sample.the_case);
    const Causes causes = causes_of(analysis, sample.the_case);
    CHECK(sums.hypotheses().log_evidence() +
              std::accumulate(numbers.observed.begin(), numbers.observed.end(), 0.0,
                              [](double sum, const auto& seen) { return sum + seen.log_scale; }) ==
          Approx(std::log(posterior.total())).margin(1e-9));
    for (const auto& replaced : all_sets(analysis, causes)) {
      double new_parts = 1;
      for (std::uint32_t c : causes.components) new_parts *= replaced[c] ? kSoundNewPart : 1;
      const std::vector<bool> left = left_by(analysis, complaint, replaced);
      const auto of = sums.sum(&left, {}, true);
      INFO("seed " << seed);
      CHECK(of.probability * new_parts == Approx(posterior.mean([&](const std::vector<int>& grade) {
                                            return cured(analysis, causes, replaced, grade);
                                          })).margin(1e-9));
      for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
        if (causes.complaint.contains(o)) continue;
        // What a set shows is drawn, so that S is known better where o was observed.
        if (was_seen(sample.the_case, o)) continue;
        for (std::size_t s = 0; s < 3; ++s) {
          CHECK(of.grades[o][s] * new_parts ==
                Approx(posterior.mean([&](const std::vector<int>& grade) {
                  return cured(analysis, causes, replaced, grade) * grade_of(analysis, o, grade)[s];
                })).margin(1e-9));
        }
      }
    }
    for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
      CHECK(sums.not_sound(m) == Approx(posterior.mean([&](const std::vector<int>& grade) {
                                   return grade[m] > 0 ? 1.0 : 0.0;
                                 })).margin(1e-9));
    }
  }
}

TEST_CASE("sets of parts compared by their differences weigh what sums over all of each weigh") {
  for (std::uint64_t seed = 0; seed < 40; ++seed) {
    const Sample sample = random_sample(seed);
    const Analysis& analysis = sample.machine.analysis;
    const Model model = sample.machine.compile();
    const CaseNumbers numbers = read_case(model, sample.the_case);
    const auto complaint = complained_of(analysis, numbers, present_of(model));
    const CureSums sums(model, numbers, complaint, all_observations(analysis));
    const Causes causes = causes_of(analysis, sample.the_case);
    const std::vector<std::uint32_t> parts(causes.components.begin(), causes.components.end());
    std::vector<std::vector<std::uint32_t>> items_in;
    for (const std::uint32_t o : complaint) {
      for (const auto& set : analysis.observations[o].sets) {
        auto& in = items_in.emplace_back();
        for (std::uint32_t i = 0; i < parts.size(); ++i) {
          if (std::any_of(set.modes.begin(), set.modes.end(), [&](std::uint32_t m) {
                return analysis.modes[m].component_index == parts[i];
              })) {
            in.push_back(i);
          }
        }
      }
    }
    CuredShares shares(sums, items_in);
    const std::vector<std::uint32_t> all = all_observations(analysis);
    const Grades weight{0.9, 0.3, 0.05};
    for (const auto& replaced : all_sets(analysis, causes)) {
      ItemSet set(parts.size());
      for (std::uint32_t i = 0; i < parts.size(); ++i) {
        if (replaced[parts[i]]) set.add(i);
      }
      const std::vector<bool> left = left_by(analysis, complaint, replaced);
      const auto of = sums.sum(&left, {}, true);
      INFO("seed " << seed);
      CHECK(shares.probability(set) == Approx(of.probability).margin(1e-12));
      for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
        const Grades& g = of.grades[o];
        CHECK(shares.weighed(set, o, weight) ==
              Approx(0.9 * g[0] + 0.3 * g[1] + 0.05 * g[2]).margin(1e-12));
        if (sums.complained(o)) continue;
        const std::vector<Supposition> supposed{{o, weight}};
        const auto whole = sums.sum(&left, supposed, true).grades;
        const auto with = shares.with(std::span(&set, 1), o, std::span(&weight, 1), all).front()[0];
        for (std::uint32_t other = 0; other < whole.size(); ++other) {
          for (std::size_t s = 0; s < 3; ++s) {
            CHECK(with[other][s] == Approx(whole[other][s]).margin(1e-12));
          }
        }
      }
    }
  }
}

TEST_CASE("what is supposed of a test counts as if it had been observed") {
  for (std::uint64_t seed = 60; seed < 90; ++seed) {
    const Sample sample = random_sample(seed);
    const Analysis& analysis = sample.machine.analysis;
    const Model model = sample.machine.compile();
    const CaseNumbers numbers = read_case(model, sample.the_case);
    const auto complaint = complained_of(analysis, numbers, present_of(model));
    const CureSums sums(model, numbers, complaint, all_observations(analysis));
    const auto last = static_cast<std::uint32_t>(analysis.observations.size() - 1);
    const std::vector<Supposition> supposed{{last, {1, 0.25, 0.5}}};
    const Enumeration posterior(analysis, sample.the_case);
    const auto weight = [&](const std::vector<int>& grade) {
      const Grades s = grade_of(analysis, last, grade);
      return s[0] + 0.25 * s[1] + 0.5 * s[2];
    };
    INFO("seed " << seed);
    CHECK(sums.sum(nullptr, supposed, false).probability ==
          Approx(posterior.mean(weight)).margin(1e-9));
  }
}

TEST_CASE("the most probable hypotheses leave out what they say, and are the most probable") {
  // Forty parts in one complaint and in pairs in twenty tests: more joint states than are looked
  // at.
  const auto [machine, symptom, tests] = forty_parts(0.002, 0.001);
  Case the_case;
  the_case.evidence = {saw(symptom, 1), saw(tests[0], 0), saw(tests[1], 1), saw(tests[2], 0)};
  const Model model = machine.compile();
  REQUIRE(model.program().has_tree());
  const CaseNumbers numbers = read_case(model, the_case);
  const Hypotheses hypotheses(model, numbers, std::vector<std::uint32_t>{symptom}, tests,
                              {16'000, 300, 0});
  CHECK_FALSE(hypotheses.complete());
  for (std::size_t h = 1; h < hypotheses.size(); ++h) {
    CHECK(hypotheses.weight(h) <= hypotheses.weight(h - 1));
  }
  faultodds::diagnosis::Program::Lease propagation(model.program());
  faultodds::diagnosis::apply(model, numbers, *propagation);
  const double exact = propagation->collect();
  const double missed = 1 - std::exp(hypotheses.log_evidence() - exact);
  CHECK(missed > 0);
  CHECK(missed < 0.02);
  propagation->distribute();
  for (std::uint32_t m = 0; m < machine.analysis.modes.size(); ++m) {
    const auto p = propagation->posterior(model.program().mode(m));
    double not_sound = 0;
    for (std::size_t h = 0; h < hypotheses.size(); ++h) {
      not_sound += hypotheses.weight(h) * hypotheses.not_sound(h, m);
    }
    // What is left out may be all or nothing of it.
    CHECK(not_sound * (1 - missed) <= p[1] + p[2] + 1e-12);
    CHECK(not_sound * (1 - missed) + missed >= p[1] + p[2] - 1e-12);
  }
}

TEST_CASE(
    "with a sample of the rest, many parts that are often faulty are told within the error said") {
  for (std::uint64_t seed = 0; seed < 6; ++seed) {
    // Forty parts of which one in twelve is faulty: the most probable states hold little.
    const auto [machine, symptom, tests] = forty_parts(0.04, 0.02);
    Case the_case;
    the_case.evidence = {saw(symptom, 1)};
    for (std::size_t i = 0; i < seed % 6; ++i) {
      the_case.evidence.push_back(saw(tests[i], static_cast<std::uint32_t>((seed >> i) & 1)));
    }
    const Model model = machine.compile();
    REQUIRE(model.program().has_tree());
    const CaseNumbers numbers = read_case(model, the_case);
    faultodds::diagnosis::Program::Lease propagation(model.program());
    faultodds::diagnosis::apply(model, numbers, *propagation);
    const double exact = propagation->collect();
    propagation->distribute();
    const std::vector<std::uint32_t> complaint{symptom};
    const Hypotheses alone(model, numbers, complaint, tests, {2'500, 300, 0});
    CHECK(1 - std::exp(alone.log_evidence() - exact) > 0.3);
    const Hypotheses hypotheses(model, numbers, complaint, tests, {2'500, 300, 4'000});
    const double error = hypotheses.estimated_error();
    INFO("seed " << seed << ", error said " << error);
    CHECK(error < 0.05);
    CHECK(std::abs(hypotheses.log_evidence() - exact) < hypotheses.log_evidence_error());
    for (std::uint32_t m = 0; m < machine.analysis.modes.size(); ++m) {
      const auto p = propagation->posterior(model.program().mode(m));
      double not_sound = 0;
      for (std::size_t h = 0; h < hypotheses.size(); ++h) {
        not_sound += hypotheses.weight(h) * hypotheses.not_sound(h, m);
      }
      CHECK(std::abs(not_sound - (p[1] + p[2])) < error);
    }
    const Hypotheses again(model, numbers, complaint, tests, {2'500, 300, 4'000});
    CHECK(again.log_evidence() == hypotheses.log_evidence());
  }
}

TEST_CASE("causes by complete hypotheses are those that products and trees find") {
  for (std::uint64_t seed = 90; seed < 130; ++seed) {
    const Sample sample = random_sample(seed);
    const Analysis& analysis = sample.machine.analysis;
    const Model model = sample.machine.compile();
    const CaseNumbers numbers = read_case(model, sample.the_case);
    const std::uint32_t focus = numbers.complaint.front();
    const Hypotheses hypotheses(model, numbers, std::vector<std::uint32_t>{},
                                all_observations(analysis), {16'000, 300, 0});
    const faultodds::diagnosis::CauseAnswer summed(
        faultodds::diagnosis::cause_sums(model, numbers, focus, hypotheses));
    const auto plan = faultodds::diagnosis::CausePlan::of(
        model, numbers, focus, faultodds::diagnosis::CauseTests::everything);
    const auto exact = plan->answer(model, numbers);
    INFO("seed " << seed);
    CHECK(summed.log_evidence() == Approx(exact.log_evidence()).margin(1e-9));
    REQUIRE(summed.values() == exact.values());
    for (std::size_t v = 0; v < exact.values(); ++v) {
      CHECK(summed.share(v) == Approx(exact.share(v)).margin(1e-9));
      for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
        if (was_seen(sample.the_case, o)) continue;
        for (std::size_t t = 0; t < 2; ++t) {
          CHECK(summed.at_most(o, t, v) == Approx(exact.at_most(o, t, v)).margin(1e-9));
        }
      }
    }
    for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
      const auto at = static_cast<std::uint32_t>(analysis.observations.size()) + m;
      for (std::size_t g = 0; g < 3; ++g) {
        CHECK(summed.mode_grades(at)[g] == Approx(exact.mode_grades(at)[g]).margin(1e-9));
      }
    }
  }
}
