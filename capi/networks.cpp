// The C ABI of faultodds_network.h, over core/network and the readers of
// network texts. What the functions promise is written in the header.
#include <cmath>
#include <cstring>
#include <memory>
#include <string>
#include <string_view>
#include <unordered_map>
#include <utility>
#include <vector>

#include "capi/boundary.h"
#include "capi/documents/bif_reader.h"
#include "capi/documents/xmlbif_reader.h"
#include "capi/faultodds_network.h"
#include "core/circuit/names.h"
#include "core/error.h"
#include "core/network/inference.h"
#include "core/number_text.h"
#include "core/quoted_text.h"

namespace documents = faultodds::documents;
namespace network_room = faultodds::network;
using namespace faultodds::boundary;
using faultodds::Code;
using faultodds::Error;
using faultodds::network::Inference;
using faultodds::network::Var;

// A network is shared with the cases that are made of it.
struct faultodds_network {
  struct Loaded {
    Loaded(network_room::Network network, const network_room::TreeOptions& options)
        : inference(std::move(network), options) {
      for (Var v = 0; v < inference.network().size(); ++v) {
        index.emplace(inference.network().name(v), v);
      }
    }
    Inference inference;
    std::unordered_map<std::string_view, Var> index;
  };
  std::shared_ptr<const Loaded> loaded;
};

struct faultodds_network_case {
  std::shared_ptr<const faultodds_network::Loaded> loaded;
  Inference::Workspace workspace;
  bool solved = false;
};

namespace {

using LoadedNetwork = faultodds_network::Loaded;

constexpr std::size_t kDefaultBudget = std::size_t{1} << 30;

network_room::Network read(std::string_view text, faultodds_network_format format,
                           std::size_t budget) {
  documents::NetworkLimits limits;
  limits.numbers = budget / sizeof(double);
  switch (format) {
    case FAULTODDS_BIF:
      return documents::read_bif(text, limits);
    case FAULTODDS_XMLBIF:
      return documents::read_xmlbif(text, limits);
    default:
      refuse("format is " + std::to_string(format) + "; expected FAULTODDS_BIF (1) or " +
             "FAULTODDS_XMLBIF (2)");
  }
}

void check_variable(const LoadedNetwork& loaded, std::uint32_t variable, const std::string& name) {
  if (variable >= loaded.inference.network().size()) {
    refuse(name + " is " + std::to_string(variable) + "; expected an index below " +
           std::to_string(loaded.inference.network().size()));
  }
}

void check_capacity(std::size_t capacity, std::size_t needed) {
  if (capacity < needed) {
    refuse("capacity is " + std::to_string(capacity) + "; expected at least " +
           std::to_string(needed) + ", one per state");
  }
}

// `name` is how a message calls the entry; it is only made when there is one to write.
template <typename NameOf>
void observe(const LoadedNetwork& loaded, network_room::Evidence& evidence,
             const faultodds_network_evidence& entry, NameOf name) {
  const network_room::Network& network = loaded.inference.network();
  if (entry.variable >= network.size()) {
    check_variable(loaded, entry.variable, name() + "variable");
  }
  const std::size_t states = network.states(entry.variable);
  const auto of_variable = [&] {
    return " of " + faultodds::in_backticks(network.name(entry.variable));
  };
  if (entry.state != -1) {
    if (entry.state < 0 || static_cast<std::size_t>(entry.state) >= states) {
      refuse(name() + "state is " + std::to_string(entry.state) + "; expected an index below " +
             std::to_string(states) + of_variable() + ", or -1 with a likelihood");
    }
    if (entry.likelihood != nullptr || entry.likelihood_count != 0) {
      refuse(name() + "likelihood is given besides state " + std::to_string(entry.state) +
             "; expected NULL with likelihood_count 0, or state -1");
    }
    evidence.observe(entry.variable, static_cast<std::size_t>(entry.state));
    return;
  }
  if (entry.likelihood == nullptr) {
    refuse(name() + "likelihood is NULL with state -1; expected one number per state" +
           of_variable());
  }
  if (entry.likelihood_count != states) {
    refuse(name() + "likelihood_count is " + std::to_string(entry.likelihood_count) +
           "; expected " + std::to_string(states) + ", one per state" + of_variable());
  }
  bool any = false;
  for (std::size_t s = 0; s < states; ++s) {
    const double value = entry.likelihood[s];
    if (!std::isfinite(value) || value < 0) {
      refuse(name() + "likelihood[" + std::to_string(s) + "] is " + faultodds::fixed_text(value) +
             "; expected a finite number, 0 or more");
    }
    any = any || value > 0;
  }
  if (!any) refuse(name() + "likelihood is 0 throughout; expected a number above 0");
  evidence.multiply(entry.variable, {entry.likelihood, states});
}

// Which variables conflict, as "`x` = `yes`", "`x` (likelihood)" or "`x` (nothing is left of it)".
std::string conflict_of(const network_room::Network& network, Inference::Workspace& workspace) {
  constexpr std::size_t kMost = 20;
  const std::vector<Var> variables = network_room::conflict(workspace);
  std::string list;
  for (std::size_t i = 0; i < variables.size() && i < kMost; ++i) {
    const Var v = variables[i];
    const auto logs = workspace.evidence.logs(v);
    std::size_t left = 0, state = 0;
    for (std::size_t s = 0; s < logs.size(); ++s) {
      if (!std::isinf(logs[s])) {
        ++left;
        state = s;
      }
    }
    if (i > 0) list += ", ";
    list += faultodds::in_backticks(network.name(v));
    if (left == 1) {
      list += " = " + faultodds::in_backticks(network.state_names(v)[state]);
    } else {
      list += left == 0 ? " (every state is excluded)" : " (likelihood)";
    }
  }
  if (variables.size() > kMost) {
    list += " and " + std::to_string(variables.size() - kMost) + " more";
  }
  return list;
}

// Natural log of the probability of the workspace's evidence; throws when that is 0.
double solve(const LoadedNetwork& loaded, Inference::Workspace& workspace, bool with_posteriors) {
  const double log_evidence = network_room::collect(workspace);
  if (std::isinf(log_evidence)) {
    throw Error(Code::conflicting_evidence,
                "the evidence is impossible; in conflict, none of which can be left out: " +
                    conflict_of(loaded.inference.network(), workspace));
  }
  if (with_posteriors) network_room::distribute(workspace);
  return log_evidence;
}

std::size_t copy_posterior(const Inference::Workspace& workspace, Var v, double* out) {
  const auto posterior = workspace.propagation.posterior(v);
  std::memcpy(out, posterior.data(), posterior.size() * sizeof(double));
  return posterior.size();
}

std::size_t copy_posteriors(const LoadedNetwork& loaded, const Inference::Workspace& workspace,
                            double* out) {
  std::size_t written = 0;
  for (Var v = 0; v < loaded.inference.network().size(); ++v) {
    written += copy_posterior(workspace, v, out + written);
  }
  return written;
}

const faultodds_network_case& solved(const faultodds_network_case* the_case) {
  need(the_case, "the_case");
  if (!the_case->solved) {
    refuse(
        "the case has no posteriors; expected a call of faultodds_network_case_solve after the "
        "last change of the case");
  }
  return *the_case;
}

}  // namespace

extern "C" {

faultodds_status faultodds_network_load(const char* text, size_t text_len,
                                        faultodds_network_format format,
                                        const faultodds_network_options* options,
                                        faultodds_network** network, faultodds_error** error) {
  clear(network);
  return guarded(error, [&] {
    need(network, "network");
    const faultodds_network_options given = known_part(options, "options");
    const faultodds::StopScope scope(signal_of(given.cancel));
    faultodds::check_stop();
    const std::string_view whole = text_argument(text, text_len, "text");
    const std::size_t budget = given.memory_budget == 0
                                   ? kDefaultBudget
                                   : budget_argument(given.memory_budget, "options->memory_budget");
    *network = new faultodds_network{std::make_shared<const LoadedNetwork>(
        read(whole, format, budget), network_room::TreeOptions{budget})};
  });
}

void faultodds_network_free(faultodds_network* network) { delete network; }

uint32_t faultodds_network_variable_count(const faultodds_network* network) {
  if (network == nullptr) return 0;
  return static_cast<uint32_t>(network->loaded->inference.network().size());
}

const char* faultodds_network_variable_name(const faultodds_network* network, uint32_t variable) {
  if (variable >= faultodds_network_variable_count(network)) return nullptr;
  return network->loaded->inference.network().name(variable).c_str();
}

uint32_t faultodds_network_state_count(const faultodds_network* network, uint32_t variable) {
  if (variable >= faultodds_network_variable_count(network)) return 0;
  return static_cast<uint32_t>(network->loaded->inference.network().states(variable));
}

const char* faultodds_network_state_name(const faultodds_network* network, uint32_t variable,
                                         uint32_t state) {
  if (state >= faultodds_network_state_count(network, variable)) return nullptr;
  return network->loaded->inference.network().state_names(variable)[state].c_str();
}

size_t faultodds_network_posterior_count(const faultodds_network* network) {
  return network == nullptr ? 0 : network->loaded->inference.total_states();
}

faultodds_status faultodds_network_find_variable(const faultodds_network* network, const char* name,
                                                 size_t name_len, uint32_t* variable,
                                                 faultodds_error** error) {
  clear(variable);
  return guarded(error, [&] {
    need(network, "network");
    need(variable, "variable");
    const std::string_view wanted = text_argument(name, name_len, "name");
    const auto found = network->loaded->index.find(wanted);
    if (found == network->loaded->index.end()) {
      const network_room::Network& all = network->loaded->inference.network();
      std::vector<std::string> names;
      for (Var v = 0; v < all.size(); ++v) names.push_back(all.name(v));
      refuse("unknown variable " + faultodds::in_backticks(wanted) +
             faultodds::circuit::expected(std::string(wanted), names, "variables"));
    }
    *variable = found->second;
  });
}

faultodds_status faultodds_network_find_state(const faultodds_network* network, uint32_t variable,
                                              const char* name, size_t name_len, uint32_t* state,
                                              faultodds_error** error) {
  clear(state);
  return guarded(error, [&] {
    need(network, "network");
    need(state, "state");
    check_variable(*network->loaded, variable, "variable");
    const std::string_view wanted = text_argument(name, name_len, "name");
    const network_room::Network& all = network->loaded->inference.network();
    const std::vector<std::string>& names = all.state_names(variable);
    for (std::size_t s = 0; s < names.size(); ++s) {
      if (names[s] != wanted) continue;
      *state = static_cast<uint32_t>(s);
      return;
    }
    refuse("unknown state " + faultodds::in_backticks(wanted) + " of " +
           faultodds::in_backticks(all.name(variable)) +
           faultodds::circuit::expected(std::string(wanted), names, "states"));
  });
}

faultodds_status faultodds_network_read_statistics(const faultodds_network* network,
                                                   faultodds_network_statistics* statistics,
                                                   faultodds_error** error) {
  return guarded(error, [&] {
    need(statistics, "statistics");
    clear_struct(statistics, "statistics");
    need(network, "network");
    const Inference& inference = network->loaded->inference;
    statistics->cliques = inference.tree().cliques();
    statistics->entries = inference.tree().entries();
    statistics->dense_entries = inference.tree().dense_entries();
    statistics->largest_clique = inference.tree().largest_clique();
    statistics->bytes = inference.bytes();
    statistics->query_bytes = inference.workspace_bytes();
  });
}

faultodds_status faultodds_network_query(const faultodds_network* network,
                                         const faultodds_network_evidence* evidence, size_t count,
                                         const faultodds_call_options* options, double* posteriors,
                                         size_t capacity, size_t* written, double* log_evidence,
                                         faultodds_error** error) {
  clear(written);
  clear(log_evidence);
  return guarded(options, error, [&] {
    need(network, "network");
    need(written, "written");
    need(log_evidence, "log_evidence");
    if (evidence == nullptr && count != 0) {
      refuse("evidence is NULL with count " + std::to_string(count) +
             "; expected a pointer, or count 0");
    }
    const LoadedNetwork& loaded = *network->loaded;
    const bool wanted = posteriors != nullptr || capacity != 0;
    if (wanted) {
      need(posteriors, "posteriors");
      check_capacity(capacity, loaded.inference.total_states());
    }
    const Inference::Lease workspace(loaded.inference);
    const char* at = reinterpret_cast<const char*>(evidence);
    for (std::size_t i = 0; i < count; ++i) {
      const auto& entry = *reinterpret_cast<const faultodds_network_evidence*>(at);
      const auto name = [i] { return "evidence[" + std::to_string(i) + "]."; };
      // The size is how far the next entry is: a wrong one must not be stepped by.
      if (entry.struct_size != evidence->struct_size ||
          entry.struct_size < sizeof(faultodds_network_evidence) ||
          entry.struct_size % alignof(faultodds_network_evidence) != 0) {
        refuse(name() + "struct_size is " + std::to_string(entry.struct_size) + "; expected " +
               std::to_string(sizeof(faultodds_network_evidence)) +
               " (sizeof) or that of a later version, the same in every entry");
      }
      if (i == 0) {
        check_struct_size(entry.struct_size, sizeof(faultodds_network_evidence), "evidence");
      }
      observe(loaded, workspace->evidence, entry, name);
      at += entry.struct_size;
    }
    const double answer = solve(loaded, *workspace, wanted);
    if (wanted) *written = copy_posteriors(loaded, *workspace, posteriors);
    *log_evidence = answer;
  });
}

faultodds_status faultodds_network_case_open(const faultodds_network* network,
                                             faultodds_network_case** new_case,
                                             faultodds_error** error) {
  clear(new_case);
  return guarded(error, [&] {
    need(network, "network");
    need(new_case, "new_case");
    *new_case = new faultodds_network_case{network->loaded,
                                           Inference::Workspace(network->loaded->inference), false};
  });
}

void faultodds_network_case_free(faultodds_network_case* the_case) { delete the_case; }

faultodds_status faultodds_network_case_observe(faultodds_network_case* the_case,
                                                const faultodds_network_evidence* evidence,
                                                faultodds_error** error) {
  return guarded(error, [&] {
    need(the_case, "the_case");
    need(evidence, "evidence");
    check_struct_size(evidence->struct_size, sizeof(faultodds_network_evidence), "evidence");
    observe(*the_case->loaded, the_case->workspace.evidence, *evidence,
            [] { return std::string("evidence->"); });
    the_case->solved = false;
  });
}

faultodds_status faultodds_network_case_retract(faultodds_network_case* the_case, uint32_t variable,
                                                faultodds_error** error) {
  return guarded(error, [&] {
    need(the_case, "the_case");
    check_variable(*the_case->loaded, variable, "variable");
    the_case->workspace.evidence.retract(variable);
    the_case->solved = false;
  });
}

faultodds_status faultodds_network_case_solve(faultodds_network_case* the_case,
                                              const faultodds_call_options* options,
                                              double* log_evidence, faultodds_error** error) {
  clear(log_evidence);
  return guarded(options, error, [&] {
    need(the_case, "the_case");
    need(log_evidence, "log_evidence");
    the_case->solved = false;
    *log_evidence = solve(*the_case->loaded, the_case->workspace, true);
    the_case->solved = true;
  });
}

faultodds_status faultodds_network_case_posterior(const faultodds_network_case* the_case,
                                                  uint32_t variable, double* posterior,
                                                  size_t capacity, size_t* written,
                                                  faultodds_error** error) {
  clear(written);
  return guarded(error, [&] {
    const faultodds_network_case& from = solved(the_case);
    need(posterior, "posterior");
    need(written, "written");
    check_variable(*from.loaded, variable, "variable");
    check_capacity(capacity, from.loaded->inference.network().states(variable));
    *written = copy_posterior(from.workspace, variable, posterior);
  });
}

faultodds_status faultodds_network_case_posteriors(const faultodds_network_case* the_case,
                                                   double* posteriors, size_t capacity,
                                                   size_t* written, faultodds_error** error) {
  clear(written);
  return guarded(error, [&] {
    const faultodds_network_case& from = solved(the_case);
    need(posteriors, "posteriors");
    need(written, "written");
    check_capacity(capacity, from.loaded->inference.total_states());
    *written = copy_posteriors(*from.loaded, from.workspace, posteriors);
  });
}

}  // extern "C"
