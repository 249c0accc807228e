#include "priors/learning.h"

#include "core/diagnosis/evidence.h"
#include "priors/learner.h"

namespace faultodds::priors {

Learned learn(const std::vector<circuit::Analysis>& circuits, const std::vector<Job>& jobs,
              const std::map<ModeName, Dirichlet>& judgement, const LearnOptions& options) {
  Learner learner(circuits, jobs, judgement, options);
  std::size_t orders = 0;
  for (const Job& job : jobs) orders += job.orders;
  return learner.run(orders);
}

Confirmed confirmed_by(const std::vector<circuit::Analysis>& circuits, const std::vector<Job>& jobs,
                       const std::map<ModeName, Dirichlet>& judgement,
                       const LearnOptions& options) {
  LearnOptions with_outcomes = options;
  with_outcomes.learn_outcomes = true;
  return Learner(circuits, jobs, judgement, with_outcomes).confirmed();
}

diagnosis::Pack learned_pack(const Learned& learned, const std::string& id,
                             const std::string& asset_class) {
  diagnosis::Pack pack;
  pack.id = id;
  for (const auto& [name, mode] : learned.modes) {
    const Dirichlet& p = mode.posterior;
    pack.priors.push_back({name.type, name.mode, asset_class,
                           circuit::GradeDistribution{p.mean(0), p.mean(1), p.mean(2)},
                           std::nullopt});
  }
  pack.outcomes = learned.outcomes;
  return pack;
}

}  // namespace faultodds::priors
