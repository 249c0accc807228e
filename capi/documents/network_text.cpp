#include "capi/documents/network_text.h"

#include <algorithm>
#include <set>
#include <utility>

#include "core/error.h"
#include "core/number_text.h"
#include "core/stop.h"

namespace faultodds::documents {

using network::Var;

namespace {

[[noreturn]] void refuse_text(const std::string& what) {
  throw Error(Code::invalid_document, what);
}

}  // namespace

void refuse_line(std::size_t line, const std::string& what, Code code) {
  throw Error(code, "line " + std::to_string(line) + ": " + what);
}

std::optional<double> probability_of(std::string_view text) {
  double value = 0;
  const auto [end, problem] = read_number(text.data(), text.data() + text.size(), value);
  if (end != text.data() + text.size() || text.empty()) return std::nullopt;
  if (problem == std::errc::result_out_of_range) {
    // Too large or too small: only the latter is written with a negative exponent.
    const std::size_t exponent = text.find_first_of("eE");
    const bool small = exponent == std::string_view::npos
                           ? text.front() == '0' || text.front() == '.'
                           : text.substr(exponent + 1).starts_with('-');
    return small && text.front() != '-' ? std::optional<double>(0) : std::nullopt;
  }
  if (problem != std::errc() || !(value >= 0 && value <= 1 + 1e-6)) return std::nullopt;
  return value;
}

Var NetworkDraft::add(const std::string& name, std::vector<std::string> states) {
  check_stop();
  if (name.empty()) refuse_text("a variable without a name");
  if (variables_.count(name) != 0) {
    refuse_text("variable " + in_backticks(name) + " is declared twice");
  }
  if (states.empty()) {
    refuse_text("variable " + in_backticks(name) + " has no states; expected 1 to 65535");
  }
  std::set<std::string_view> seen;
  for (const std::string& state : states) {
    if (state.empty()) refuse_text("a state of variable " + in_backticks(name) + " has no name");
    if (!seen.insert(state).second) {
      refuse_text("variable " + in_backticks(name) + " has the state " + in_backticks(state) +
                  " twice");
    }
  }
  if (network_.size() >= limits_.variables) {
    throw Error(Code::limit_exceeded,
                "the network has more than " + std::to_string(limits_.variables) + " variables");
  }
  const std::size_t n = states.size();
  if (n > 65535) {
    throw Error(Code::limit_exceeded, "variable " + in_backticks(name) + " has " +
                                          std::to_string(n) + " states; the limit is 65535");
  }
  const Var v = network_.add(name, n, std::move(states));
  variables_.emplace(name, v);
  return v;
}

Var NetworkDraft::variable(const std::string& name) const {
  const auto at = variables_.find(name);
  if (at == variables_.end()) refuse_text("variable " + in_backticks(name) + " is not declared");
  return at->second;
}

std::size_t NetworkDraft::state(Var v, const std::string& name) const {
  const auto [found, is_new] = states_.try_emplace(v);
  auto& index = found->second;
  if (is_new) {
    for (const std::string& known : network_.state_names(v)) index.emplace(known, index.size());
  }
  const auto at = index.find(name);
  if (at == index.end()) {
    refuse_text(in_backticks(name) + " is not a state of " + in_backticks(network_.name(v)));
  }
  return at->second;
}

std::size_t NetworkDraft::rows_of(Var child, const std::vector<Var>& parents) {
  check_stop();
  const std::string name = in_backticks(network_.name(child));
  if (!network_.table(child).scope.empty()) refuse_text("a second table for variable " + name);
  if (parents.size() > limits_.parents) {
    throw Error(Code::limit_exceeded, "the table of " + name + " is given " +
                                          std::to_string(parents.size()) + " variables; at most " +
                                          std::to_string(limits_.parents) + " are taken");
  }
  for (std::size_t i = 0; i < parents.size(); ++i) {
    const std::string parent = in_backticks(network_.name(parents[i]));
    if (parents[i] == child) refuse_text("variable " + name + " is given itself");
    if (std::find(parents.begin(), parents.begin() + static_cast<std::ptrdiff_t>(i), parents[i]) !=
        parents.begin() + static_cast<std::ptrdiff_t>(i)) {
      refuse_text("the table of " + name + " is given " + parent + " twice");
    }
  }
  std::size_t rows = 1;
  const std::size_t left = limits_.numbers - numbers_;
  for (const Var p : parents) {
    rows *= network_.states(p);
    if (rows > left) break;
  }
  if (rows * network_.states(child) > left) {
    throw Error(Code::limit_exceeded,
                "with the table of " + name + " the tables of the network have more than " +
                    std::to_string(limits_.numbers) + " numbers, " +
                    std::to_string(limits_.numbers * sizeof(double)) + " bytes");
  }
  return rows;
}

void NetworkDraft::set_table(Var child, const std::vector<Var>& parents,
                             std::vector<double> table) {
  numbers_ += table.size();
  try {
    network_.set_table(child, parents, std::move(table));
  } catch (const Error& error) {
    refuse_text(error.what());
  }
}

network::Network NetworkDraft::finish() {
  if (network_.size() == 0) refuse_text("no variable is declared; expected at least one");
  for (Var v = 0; v < network_.size(); ++v) {
    if (network_.table(v).scope.empty()) {
      refuse_text("variable " + in_backticks(network_.name(v)) + " has no table");
    }
  }
  return std::move(network_);
}

}  // namespace faultodds::documents
