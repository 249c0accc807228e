#include "core/network/inference.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace faultodds::network {

namespace {

// The tables stay where the tree is, and cases come one at a time.
TreeOptions dense_allowed(TreeOptions options) {
  options.dense_cliques = true;
  return options;
}

}  // namespace

Evidence::Evidence(const Network& network) : is_known_(network.size(), false) {
  offset_.reserve(network.size() + 1);
  std::size_t total = 0;
  for (Var v = 0; v < network.size(); ++v) {
    offset_.push_back(total);
    total += network.states(v);
  }
  offset_.push_back(total);
  log_.assign(total, 0.0);
  known_.reserve(network.size());
}

void Evidence::clear() {
  for (Var v : known_) is_known_[v] = false;
  known_.clear();
}

std::span<double> Evidence::tell(Var v) {
  const std::span<double> logs{log_.data() + offset_[v], offset_[v + 1] - offset_[v]};
  if (!is_known_[v]) {
    is_known_[v] = true;
    known_.push_back(v);
    std::fill(logs.begin(), logs.end(), 0.0);
  }
  return logs;
}

void Evidence::multiply(Var v, std::span<const double> likelihood) {
  const std::span<double> logs = tell(v);
  for (std::size_t s = 0; s < logs.size(); ++s) {
    logs[s] += likelihood[s] > 0 ? std::log(likelihood[s]) : kLogOfZero;
  }
}

void Evidence::observe(Var v, std::size_t state) {
  const std::span<double> logs = tell(v);
  for (std::size_t s = 0; s < logs.size(); ++s) {
    if (s != state) logs[s] = kLogOfZero;
  }
}

void Evidence::retract(Var v) {
  if (!is_known_[v]) return;
  is_known_[v] = false;
  known_.erase(std::find(known_.begin(), known_.end(), v));
}

Inference::Inference(Network network, const TreeOptions& options)
    : network_(std::move(network)), tree_(JunctionTree::of(network_, dense_allowed(options))) {
  for (Var v = 0; v < network_.size(); ++v) total_states_ += network_.states(v);
}

std::size_t Inference::bytes() const {
  std::size_t numbers = 0;
  for (Var v = 0; v < network_.size(); ++v) numbers += network_.table(v).table.size();
  return tree_.bytes() + numbers * sizeof(double);
}

std::size_t Inference::workspace_bytes() const {
  const std::size_t evidence = total_states_ * sizeof(double) + network_.size() * sizeof(Var) +
                               (network_.size() + 1) * sizeof(std::size_t);
  return evidence + Propagation::bytes(tree_);
}

Inference::Workspace::Workspace(const Inference& of)
    : evidence(of.network_), propagation(of.tree_) {}

Inference::Lease::Lease(const Inference& from) : from_(&from) {
  {
    const std::lock_guard lock(from.mutex_);
    if (from.pool_) {
      workspace_ = std::move(from.pool_);
      from.pool_ = std::move(workspace_->next);
    }
  }
  if (!workspace_) workspace_ = std::make_unique<Workspace>(from);
  workspace_->evidence.clear();
}

Inference::Lease::~Lease() {
  const std::lock_guard lock(from_->mutex_);
  workspace_->next = std::move(from_->pool_);
  from_->pool_ = std::move(workspace_);
}

namespace {

// Collects the evidence on some of the known variables.
double collect_some(Inference::Workspace& workspace, const std::vector<Var>& variables) {
  workspace.propagation.clear();
  for (Var v : variables) workspace.propagation.multiply_logs(v, workspace.evidence.logs(v));
  return workspace.propagation.collect();
}

}  // namespace

double collect(Inference::Workspace& workspace) {
  return collect_some(workspace, workspace.evidence.known());
}

void distribute(Inference::Workspace& workspace) { workspace.propagation.distribute(); }

std::vector<Var> conflict(Inference::Workspace& workspace) {
  std::vector<Var> rest = workspace.evidence.known();
  std::vector<Var> needed;
  std::vector<Var> tried;
  const auto impossible = [&](std::size_t first) {
    tried = needed;
    tried.insert(tried.end(), rest.begin(), rest.begin() + static_cast<std::ptrdiff_t>(first));
    return collect_some(workspace, tried) == kLogOfZero;
  };
  // The last variable of the shortest impossible beginning is needed and all after it are not. It
  // is found by halving: one collection for each doubling of what is known.
  while (!rest.empty() && !impossible(0)) {
    std::size_t possible = 0, too_much = rest.size();
    while (too_much - possible > 1) {
      const std::size_t middle = possible + (too_much - possible) / 2;
      (impossible(middle) ? too_much : possible) = middle;
    }
    needed.push_back(rest[too_much - 1]);
    rest.resize(too_much - 1);
  }
  std::vector<Var> result;
  for (Var v : workspace.evidence.known()) {
    if (std::find(needed.begin(), needed.end(), v) != needed.end()) result.push_back(v);
  }
  return result;
}

}  // namespace faultodds::network
