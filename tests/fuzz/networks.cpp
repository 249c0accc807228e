// Fuzz target: network texts and queries. The first byte chooses the format (b: BIF, x: XMLBIF);
// the text follows up to a NUL; then evidence, two bytes an entry: variable, and state or
// likelihood.
#include "tests/fuzz/input.h"
#include "tests/network_options.h"

namespace {

void demand_posteriors(const faultodds_network* network, const std::vector<double>& posteriors) {
  std::size_t at = 0;
  for (uint32_t v = 0; v < faultodds_network_variable_count(network); ++v) {
    const uint32_t states = faultodds_network_state_count(network, v);
    fuzz::demand_distribution(posteriors.data() + at, states);
    at += states;
  }
  fuzz::demand(at == posteriors.size(), "a posterior for every state");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const fuzz::ProcessorTimeLimit limit;
  fuzz::Input input(data, size);
  const faultodds_network_format format = input.byte() == 'x' ? FAULTODDS_XMLBIF : FAULTODDS_BIF;
  const fuzz::Text text = input.text();
  faultodds_network* network = nullptr;
  faultodds_error* error = nullptr;
  faultodds_status status = faultodds_network_load(text.data(), text.size(), format,
                                                   NetworkOptions(1 << 20), &network, &error);
  fuzz::demand((network != nullptr) == (status == FAULTODDS_OK), "a network exactly on success");
  if (!fuzz::succeeded(status, error)) return 0;

  const uint32_t variables = faultodds_network_variable_count(network);
  std::vector<faultodds_network_evidence> evidence;
  std::vector<std::vector<double>> likelihoods;
  while (!input.done() && evidence.size() < 16 && variables > 0) {
    faultodds_network_evidence entry{};
    entry.struct_size = sizeof entry;
    entry.variable = input.byte() % variables;
    const uint8_t value = input.byte();
    const uint32_t states = faultodds_network_state_count(network, entry.variable);
    if (value < 128) {
      entry.state = static_cast<int32_t>(value % states);
    } else {
      entry.state = -1;
      std::vector<double> likelihood(states, 1e-300);
      likelihood[value % states] = value < 192 ? 1 : 1e300;
      likelihoods.push_back(std::move(likelihood));
      entry.likelihood = likelihoods.back().data();
      entry.likelihood_count = states;
    }
    evidence.push_back(entry);
  }

  std::vector<double> posteriors(faultodds_network_posterior_count(network));
  std::size_t written = 0;
  double log_evidence = 0;
  error = nullptr;
  status =
      faultodds_network_query(network, evidence.data(), evidence.size(), nullptr, posteriors.data(),
                              posteriors.size(), &written, &log_evidence, &error);
  if (fuzz::succeeded(status, error)) {
    fuzz::demand(written == posteriors.size(), "all posteriors are written");
    fuzz::demand(std::isfinite(log_evidence), "the evidence has a logarithm");
    demand_posteriors(network, posteriors);
  }

  // The same by an open case gives the same.
  faultodds_network_case* opened = nullptr;
  fuzz::demand(faultodds_network_case_open(network, &opened, nullptr) == FAULTODDS_OK,
               "a case opens");
  for (const auto& entry : evidence) {
    fuzz::demand(faultodds_network_case_observe(opened, &entry, nullptr) == FAULTODDS_OK,
                 "evidence within range is taken");
  }
  double of_case = 0;
  fuzz::demand(faultodds_network_case_solve(opened, nullptr, &of_case, nullptr) == status,
               "a case and a query agree on the status");
  fuzz::demand(status != FAULTODDS_OK || of_case == log_evidence, "and on the evidence");
  faultodds_network_case_free(opened);
  faultodds_network_free(network);
  return 0;
}
