// The parts of an assessment that are read by people: suspects, steps still to do, and the sentence
// that says what a test would tell apart.
#include <algorithm>
#include <cmath>
#include <set>

#include "core/diagnosis/assessment.h"
#include "core/diagnosis/program.h"
#include "core/number_text.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kNamed = 2;         // suspects named on either side of a sentence
constexpr double kLeading = 0.02;         // probability from which a suspect is worth naming
constexpr double kAnswersLittle = 0.005;  // bits below which a test hardly bears on the complaint

struct Suspect {
  std::uint32_t mode;
  double probability;  // of not sound
};

std::string name_some(const circuit::Analysis& analysis, const std::vector<Suspect>& suspects) {
  std::string text;
  const std::size_t named = std::min(kNamed, suspects.size());
  const std::size_t more = suspects.size() - named;
  for (std::size_t i = 0; i < named; ++i) {
    if (i > 0) text += more == 0 && i + 1 == named ? " and " : ", ";
    text +=
        mode_title(analysis, suspects[i].mode) + " (" + percent_text(suspects[i].probability) + ")";
  }
  if (more > 0) text += " and " + std::to_string(more) + " more";
  return text;
}

std::string sentence(const circuit::Analysis& analysis, const TestAssessment& test,
                     const std::vector<Suspect>& seen, const std::vector<Suspect>& unseen,
                     bool complaint) {
  if (seen.empty()) return "No failure mode of the circuit shows here.";
  if (complaint && test.cause_bits < kAnswersLittle) {
    return "Hardly bears on the complaint; it would show a second fault in " +
           name_some(analysis, seen) + ".";
  }
  if (unseen.empty()) {
    return "Looks at " + name_some(analysis, seen) +
           (seen.size() > 1 ? " together: a normal outcome speaks against all of them."
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

void explain(const Model& model, const Case& the_case, Assessment& assessment) {
  const auto& analysis = model.analysis();
  std::set<std::string> done(the_case.setup_done.begin(), the_case.setup_done.end());
  std::vector<double> not_sound(analysis.modes.size(), 0.0);
  std::vector<Suspect> leading;
  for (const FaultAssessment& fault : assessment.faults) {
    not_sound[fault.mode] = fault.grades[1] + fault.grades[2];
    if (not_sound[fault.mode] >= kLeading) leading.push_back({fault.mode, not_sound[fault.mode]});
  }
  for (TestAssessment& test : assessment.tests) {
    const auto& observation = analysis.observations[test.observation];
    test.setup.clear();
    for (std::uint32_t step : model.program().setup(test.observation)) {
      if (!done.count(analysis.setup_steps[step].id)) test.setup.push_back(step);
    }
    std::set<std::uint32_t> modes;
    for (const auto& set : observation.sets) modes.insert(set.modes.begin(), set.modes.end());
    std::vector<Suspect> seen;
    for (std::uint32_t m : modes) seen.push_back({m, not_sound[m]});
    std::stable_sort(seen.begin(), seen.end(), [](const Suspect& a, const Suspect& b) {
      return a.probability > b.probability;
    });
    test.suspects.clear();
    for (const Suspect& s : seen) test.suspects.push_back(s.mode);
    std::vector<Suspect> unseen;
    for (const Suspect& s : leading) {
      if (!modes.count(s.mode)) unseen.push_back(s);
    }
    test.because = sentence(analysis, test, seen, unseen, !assessment.complaint.empty());
  }
}

}  // namespace faultodds::diagnosis
