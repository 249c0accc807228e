// The parts of an assessment that are read by people: suspects, steps still to do, and the sentence
// that says what a test would tell apart.
#include <algorithm>
#include <cmath>
#include <set>

#include "core/diagnosis/assessment.h"
#include "core/diagnosis/program.h"
#include "core/number_text.h"
#include "core/ranked.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kNamed = 2;         // suspects named on either side of a sentence
constexpr double kLeading = 0.02;         // probability from which a suspect is worth naming
constexpr double kAnswersLittle = 0.005;  // bits below which a test hardly bears on the complaint

struct Suspect {
  std::uint32_t mode;
  double probability;  // of not sound
};

// Suspects on one side of a sentence: how many, and at least those of them that it names.
struct Side {
  std::vector<Suspect> first;
  std::size_t count = 0;
};

// The leading suspects that a test does not see, `seen` of them being seen. Only as many are looked
// for as a sentence names: that and not more is why all tests together take no longer than what
// they see.
Side not_seen(const std::vector<Suspect>& leading, std::size_t seen,
              const std::set<std::uint32_t>& modes) {
  Side side;
  side.count = leading.size() - seen;
  for (std::size_t i = 0; side.first.size() < std::min(kNamed, side.count); ++i) {
    if (!modes.count(leading[i].mode)) side.first.push_back(leading[i]);
  }
  return side;
}

std::string name_some(const circuit::Analysis& analysis, const Side& side) {
  std::string text;
  const std::vector<Suspect>& suspects = side.first;
  const std::size_t named = std::min(kNamed, side.count);
  const std::size_t more = side.count - named;
  for (std::size_t i = 0; i < named; ++i) {
    if (i > 0) text += more == 0 && i + 1 == named ? " and " : ", ";
    text +=
        mode_title(analysis, suspects[i].mode) + " (" + percent_text(suspects[i].probability) + ")";
  }
  if (more > 0) text += " and " + std::to_string(more) + " more";
  return text;
}

std::string sentence(const circuit::Analysis& analysis, const TestAssessment& test,
                     const Side& seen, const Side& unseen, bool complaint) {
  if (seen.count == 0) return "No failure mode of the circuit shows here.";
  if (complaint && test.cause_bits < kAnswersLittle) {
    return "Hardly bears on the complaint; it would show a second fault in " +
           name_some(analysis, seen) + ".";
  }
  if (unseen.count == 0) {
    return "Looks at " + name_some(analysis, seen) +
           (seen.count > 1 ? " together: a normal outcome speaks against all of them."
                           : ": a normal outcome speaks against it.");
  }
  return "Tells " + name_some(analysis, seen) + " apart from " + name_some(analysis, unseen) +
         ", which it does not reach.";
}

}  // namespace

std::string percent_text(double p) {
  if (p > 0 && p < 0.001) return "under 0.1 %";
  if (p < 1 && p > 0.995) return "over 99 %";
  return fixed_text(100 * p, 100 * p < 10 ? 1 : 0) + " %";
}

std::string mode_title(const circuit::Analysis& analysis, std::uint32_t mode) {
  const auto& m = analysis.modes[mode];
  return analysis.components[m.component_index].display_title() + ": " + m.title;
}

void say_setup(const Preparation& preparation, TestAssessment& test) {
  test.setup.clear();
  test.work.clear();
  for (const std::uint32_t i : preparation.of(test.observation)) {
    if (preparation.done()[i]) continue;
    if (preparation.is_of_circuit(i)) {
      test.setup.push_back(i);
    } else {
      test.work.push_back(preparation.step(i));
    }
  }
}

void explain(const Model& model, const Case& the_case, Assessment& assessment) {
  const auto& analysis = model.analysis();
  const Preparation preparation(model, the_case);
  std::vector<double> not_sound(analysis.modes.size(), 0.0);
  std::vector<Suspect> leading;
  for (const FaultAssessment& fault : assessment.faults) {
    not_sound[fault.mode] = fault.grades[1] + fault.grades[2];
    if (not_sound[fault.mode] >= kLeading) leading.push_back({fault.mode, not_sound[fault.mode]});
  }
  for (TestAssessment& test : assessment.tests) {
    const auto& observation = analysis.observations[test.observation];
    say_setup(preparation, test);
    std::set<std::uint32_t> modes;
    for (const auto& set : observation.sets) modes.insert(set.modes.begin(), set.modes.end());
    Side seen;
    std::size_t leading_seen = 0;
    for (std::uint32_t m : modes) {
      seen.first.push_back({m, not_sound[m]});
      if (not_sound[m] >= kLeading) ++leading_seen;
    }
    seen.count = seen.first.size();
    std::stable_sort(seen.first.begin(), seen.first.end(), [](const Suspect& a, const Suspect& b) {
      return ranked(a.probability) > ranked(b.probability);
    });
    test.suspects.clear();
    for (const Suspect& s : seen.first) test.suspects.push_back(s.mode);
    if (test.again) continue;
    test.because = sentence(analysis, test, seen, not_seen(leading, leading_seen, modes),
                            !assessment.complaint.empty());
  }
}

}  // namespace faultodds::diagnosis
