// Cases in their course, for the tests of the plan: a random machine with repeats, a repair and
// tests that cannot be made, and what is probable of it by summing over every combination of
// grades, those of the parts that were in among them. No code of the engine's computes anything
// here.
#pragma once

#include <algorithm>
#include <cstdint>
#include <string>
#include <vector>

#include "tests/unit/advice_enumeration.h"

namespace plan_test {

using advice_test::Analysis;
using advice_test::Case;
using advice_test::Causes;
using advice_test::Enumeration;
using advice_test::Evidence;
using advice_test::Grades;
using advice_test::Sample;

// advice_test's, with more in it. At most one repair, of one component.
inline Sample random_course(std::uint64_t seed) {
  Sample sample = advice_test::random_sample(seed);
  std::mt19937_64 random(seed + 1'000'003);
  const auto pick = [&](std::size_t n) {
    return static_cast<std::uint32_t>(std::uniform_int_distribution<std::size_t>(0, n - 1)(random));
  };
  Case& the_case = sample.the_case;
  const Analysis& analysis = sample.machine.analysis;
  if (seed % 2 == 0) {
    for (Evidence& e : the_case.evidence) e.again = false;
  }
  if (pick(3) == 0) {  // looked at once more
    Evidence again = advice_test::saw(0, pick(3));
    again.again = true;
    the_case.evidence.push_back(again);
  }
  if (analysis.modes.size() <= 6 && pick(2) == 0) {
    const std::size_t c = analysis.modes[pick(analysis.modes.size())].component_index;
    the_case.repairs.push_back({{analysis.components[c].id}, ""});
    if (pick(2) == 0) the_case.evidence.push_back(advice_test::saw(0, 1 + pick(2)));
    if (pick(2) == 0) the_case.evidence.push_back(advice_test::saw(2, pick(3)));
    for (std::size_t i = the_case.evidence.size(); i-- > 1;) {
      if (the_case.evidence[i].again || i + 2 < the_case.evidence.size()) break;
      if (pick(2) == 0) the_case.evidence[i].repairs_before = 1;
    }
  }
  for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
    if (pick(5) == 0) the_case.not_possible.push_back({o, "no room"});
  }
  return sample;
}

// The machine with the parts that were in as components of their own, and by observation, those of
// the parts that were in added at the end, the outcomes seen.
struct Course {
  Analysis analysis;
  std::vector<std::vector<std::uint32_t>> seen;
  Causes causes;
};

inline Course course_of(const Analysis& original, const Case& the_case) {
  Course course;
  Analysis& analysis = course.analysis = original;
  const std::size_t modes = original.modes.size(), observations = original.observations.size();
  std::vector<std::uint32_t> was(modes);  // of each mode: that of the part that was in
  for (std::uint32_t m = 0; m < modes; ++m) was[m] = m;
  if (!the_case.repairs.empty()) {
    const std::string& id = the_case.repairs[0].components[0];
    double faults = 0;
    for (const auto& mode : original.modes) {
      if (mode.component == id) faults += 1 - mode.prior[0];
    }
    analysis.components.push_back(original.components[0]);
    for (std::uint32_t m = 0; m < modes; ++m) {
      if (original.modes[m].component != id) continue;
      was[m] = static_cast<std::uint32_t>(analysis.modes.size());
      analysis.modes.push_back(original.modes[m]);
      analysis.modes.back().component_index = analysis.components.size() - 1;
      // One new part in a hundred is bad, by one of its modes; three of ten of those have failed.
      const double bad = 0.01 * (1 - original.modes[m].prior[0]) / faults;
      if (bad < 1 - original.modes[m].prior[0]) {
        analysis.modes[m].prior = {1 - bad, 0.7 * bad, 0.3 * bad};
      }
    }
    for (auto& condition : analysis.conditions) {
      for (auto& [m, factor] : condition.raises) m = was[m];
    }
  }
  course.seen.resize(observations);
  std::vector<std::uint32_t> before(observations, 0);  // as it was, if it was another
  for (const Evidence& e : the_case.evidence) {
    std::uint32_t o = e.observation;
    const auto& sets = original.observations[o].sets;
    const bool other = std::any_of(sets.begin(), sets.end(), [&](const auto& set) {
      return std::any_of(set.modes.begin(), set.modes.end(),
                         [&](std::uint32_t m) { return was[m] != m; });
    });
    if (other && e.repairs_before == 0) {
      if (before[o] == 0) {
        before[o] = static_cast<std::uint32_t>(analysis.observations.size());
        auto past = original.observations[o];
        for (auto& set : past.sets) {
          for (std::uint32_t& m : set.modes) m = was[m];
        }
        analysis.observations.push_back(past);
        course.seen.emplace_back();
      }
      o = before[o];
    }
    course.seen[o].push_back(*e.outcome);
  }
  // What is complained of is what an abnormal symptom shows of the parts that are in now.
  Causes& causes = course.causes;
  causes.sound_new_part = 1 - the_case.economics.bad_new_part;
  std::vector<bool> listed(analysis.components.size(), false);
  for (const Evidence& e : the_case.evidence) {
    if (!original.observations[e.observation].symptom || *e.outcome == 0) continue;
    causes.complaint[e.observation] = course.seen[e.observation];
    for (const auto& set : original.observations[e.observation].sets) {
      for (std::uint32_t m : set.modes) listed[original.modes[m].component_index] = true;
    }
  }
  for (std::uint32_t c = 0; c < listed.size(); ++c) {
    if (listed[c]) causes.components.push_back(c);
  }
  return course;
}

inline Enumeration posterior_of(const Course& course) {
  return Enumeration(course.analysis, [&](const std::vector<int>& grade) {
    double p = 1;
    for (std::uint32_t o = 0; o < course.seen.size() && p > 0; ++o) {
      if (course.seen[o].empty()) continue;
      p *= advice_test::seen_probability(course.analysis, o, course.seen[o], grade);
    }
    return p;
  });
}

// P(outcome of o | grades, what was seen of it before).
inline double next_seen(const Course& course, std::uint32_t o, std::uint32_t outcome,
                        const std::vector<int>& grade) {
  std::vector<std::uint32_t> seen = course.seen[o];
  const double before = advice_test::seen_probability(course.analysis, o, seen, grade);
  seen.push_back(outcome);
  return before > 0 ? advice_test::seen_probability(course.analysis, o, seen, grade) / before : 0;
}

// P(normal | grades, what was seen of it before) once those components are new and sound.
inline double normal_after(const Course& course, std::uint32_t o, const std::vector<int>& grade,
                           const std::vector<bool>& replaced) {
  const Analysis& analysis = course.analysis;
  const auto& observation = analysis.observations[o];
  const auto is_new = [&](std::uint32_t m) { return replaced[analysis.modes[m].component_index]; };
  // What a set shows, its own draw, is the same before and after.
  struct Set {
    int before = 0, after = 0;
    double probability = 1;
  };
  std::vector<Set> sets;
  for (const auto& set : observation.sets) {
    Set one{2, 2, set.probability};
    for (std::uint32_t m : set.modes) {
      one.before = std::min(one.before, grade[m]);
      one.after = std::min(one.after, is_new(m) ? 0 : grade[m]);
    }
    sets.push_back(one);
  }
  double both = 0, seen = 0;
  for (std::size_t draws = 0; draws < std::size_t{1} << sets.size(); ++draws) {
    double p = 1;
    int before = 0, after = 0;
    for (std::size_t k = 0; k < sets.size(); ++k) {
      const bool shows = (draws >> k & 1) != 0;
      p *= shows ? sets[k].probability : 1 - sets[k].probability;
      if (!shows) continue;
      before = std::max(before, sets[k].before);
      after = std::max(after, sets[k].after);
    }
    if (p == 0) continue;
    for (int b = 0; b < 3; ++b) {
      double q = p * observation.background[static_cast<std::size_t>(b)];
      for (const std::uint32_t i : course.seen[o]) {
        q *= observation.matrix[static_cast<std::size_t>(std::max(before, b))][i];
      }
      seen += q;
      both += q * observation.matrix[static_cast<std::size_t>(std::max(after, b))][0];
    }
  }
  return seen > 0 ? both / seen : 0;
}

}  // namespace plan_test
