// The parts of an assessment that are read by people: suspects, steps still to do, and what a test
// would tell apart.
#include <algorithm>
#include <cmath>
#include <set>

#include "core/diagnosis/assessment.h"
#include "core/diagnosis/program.h"
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

MessageValue named(const circuit::Analysis& analysis, const Side& side) {
  MessageValue value{MessageValue::Kind::modes};
  const std::size_t named = std::min(kNamed, side.count);
  for (std::size_t i = 0; i < named; ++i) {
    value.names.push_back(analysis.modes[side.first[i].mode].id);
    value.shares.push_back(side.first[i].probability);
  }
  value.number = static_cast<double>(side.count - named);
  return value;
}

Message because(const circuit::Analysis& analysis, const TestAssessment& test, const Side& seen,
                const Side& unseen, bool complaint) {
  Message message;
  if (seen.count == 0) {
    message.id = "because.nothing";
    return message;
  }
  message.with("seen", named(analysis, seen));
  if (complaint && test.cause_bits < kAnswersLittle) {
    message.id = "because.second_fault";
  } else if (unseen.count == 0) {
    message.id = seen.count > 1 ? "because.together" : "because.alone";
  } else {
    message.id = "because.apart";
    message.with("unseen", named(analysis, unseen));
  }
  return message;
}

}  // namespace

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
    test.because = {because(analysis, test, seen, not_seen(leading, leading_seen, modes),
                            !assessment.complaint.empty())};
  }
}

}  // namespace faultodds::diagnosis
