#include "priors/suspect_bits.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>

#include "core/diagnosis/program.h"
#include "core/error.h"

namespace faultodds::priors {
namespace {

std::vector<std::uint32_t> suspects_of(const circuit::Analysis& analysis,
                                       const diagnosis::CaseNumbers& numbers) {
  std::vector<bool> is_suspect(analysis.modes.size(), numbers.complaint.empty());
  for (std::uint32_t o : numbers.complaint) {
    for (const circuit::ModeSet& set : analysis.observations[o].sets) {
      for (std::uint32_t m : set.modes) is_suspect[m] = true;
    }
  }
  std::vector<std::uint32_t> suspects;
  for (std::uint32_t m = 0; m < is_suspect.size(); ++m) {
    if (is_suspect[m]) suspects.push_back(m);
  }
  return suspects;
}

// A suspect in one of its grades, with the probability of that.
struct Supposition {
  std::uint32_t mode = 0;
  std::size_t grade = 0;
  double probability = 0;
};

}  // namespace

std::vector<double> suspect_bits(const diagnosis::Model& model,
                                 const diagnosis::CaseNumbers& numbers) {
  const circuit::Analysis& analysis = model.analysis();
  const diagnosis::Program& program = model.program();
  std::vector<bool> observed(analysis.observations.size(), false);
  for (const diagnosis::ObservedGrade& seen : numbers.observed) observed[seen.observation] = true;

  const auto outcomes_of = [&](const network::Posterior& posterior, std::uint32_t o,
                               std::vector<double>& p) {
    const network::Var v = program.observation(o);
    p.assign(analysis.observations[o].outcomes.size(), 0);
    program.add_outcomes(o, {posterior(v, 0), posterior(v, 1), posterior(v, 2)}, p);
  };

  std::vector<Supposition> suppositions;
  std::vector<std::vector<double>> expected(analysis.observations.size());
  {
    diagnosis::Program::Lease propagation(program);
    diagnosis::apply(model, numbers, *propagation);
    if (!std::isfinite(propagation->collect())) {
      throw Error(Code::conflicting_evidence, "the outcomes recorded cannot all be true");
    }
    propagation->distribute();
    for (std::uint32_t m : suspects_of(analysis, numbers)) {
      for (std::size_t g = 0; g < 3; ++g) {
        const double p = propagation->posterior(program.mode(m))[g];
        if (p > 0 && p < 1) suppositions.push_back({m, g, p});
      }
    }
    for (std::uint32_t o = 0; o < expected.size(); ++o) {
      if (!observed[o]) outcomes_of(*propagation, o, expected[o]);
    }
  }

  std::vector<double> bits(analysis.observations.size(), 0);
  std::vector<double> given;
  diagnosis::Program::LaneLease propagation(program);
  for (std::size_t first = 0; first < suppositions.size(); first += network::kLanes) {
    const std::size_t lanes = std::min(network::kLanes, suppositions.size() - first);
    propagation->clear();
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      const Supposition& supposed = suppositions[first + lane];
      std::array<double, 3> only{};
      only[supposed.grade] = 1;
      diagnosis::apply(model, numbers, *propagation, lane);
      propagation->multiply(program.mode(supposed.mode), only, lane);
    }
    propagation->collect_or_refuse();
    propagation->distribute();
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      if (!std::isfinite(propagation->log_evidence(lane))) continue;  // rounding made it possible
      const double weight = suppositions[first + lane].probability;
      for (std::uint32_t o = 0; o < bits.size(); ++o) {
        if (observed[o]) continue;
        outcomes_of({*propagation, lane}, o, given);
        for (std::size_t i = 0; i < given.size(); ++i) {
          if (given[i] > 0) bits[o] += weight * given[i] * std::log2(given[i] / expected[o][i]);
        }
      }
    }
  }
  return bits;
}

}  // namespace faultodds::priors
