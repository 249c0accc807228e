// A network made ready to be asked by any number of threads: its tables, its junction tree, and
// scratch space that is kept from one question to the next. It reads no file formats; what is asked
// of it is evidence on variables, hard or as likelihoods, and never tests or faults.
#pragma once

#include <cstddef>
#include <memory>
#include <mutex>
#include <span>
#include <vector>

#include "core/network/junction_tree.h"
#include "core/network/network.h"

namespace faultodds::network {

// What is known of each variable: the product of the likelihoods told, in logarithms. For one
// thread at a time. After construction it allocates nothing.
class Evidence {
 public:
  explicit Evidence(const Network& network);

  void clear();
  // One non-negative number per state. Hard evidence is 0 everywhere but one state.
  void multiply(Var v, std::span<const double> likelihood);
  void observe(Var v, std::size_t state);
  // Takes back all that was told of v.
  void retract(Var v);

  // The variables told of, in the order they were first told of.
  const std::vector<Var>& known() const { return known_; }
  // Natural log of the product for a known variable; -infinity where a state is excluded.
  std::span<const double> logs(Var v) const {
    return {log_.data() + offset_[v], offset_[v + 1] - offset_[v]};
  }

 private:
  std::span<double> tell(Var v);

  std::vector<std::size_t> offset_;  // of each variable's states, and the total
  std::vector<double> log_;
  std::vector<bool> is_known_;
  std::vector<Var> known_;
};

class Inference {
 public:
  // Throws Error(limit_exceeded) with the bytes needed.
  Inference(Network network, const TreeOptions& options);
  Inference(const Inference&) = delete;
  Inference& operator=(const Inference&) = delete;

  const Network& network() const { return network_; }
  const JunctionTree& tree() const { return tree_; }
  std::size_t total_states() const { return total_states_; }
  std::size_t bytes() const;            // shared by all who ask
  std::size_t workspace_bytes() const;  // of one workspace

  struct Workspace {
    explicit Workspace(const Inference& of);
    Evidence evidence;
    Propagation propagation;
    std::unique_ptr<Workspace> next;  // in the pool
  };
  // A workspace for as long as this lives; its evidence is empty. Kept for the next one after.
  class Lease {
   public:
    explicit Lease(const Inference& from);
    ~Lease();
    Lease(const Lease&) = delete;
    Lease& operator=(const Lease&) = delete;
    Workspace& operator*() const { return *workspace_; }
    Workspace* operator->() const { return workspace_.get(); }

   private:
    const Inference* from_;
    std::unique_ptr<Workspace> workspace_;
  };

 private:
  Network network_;
  JunctionTree tree_;
  std::size_t total_states_ = 0;
  mutable std::mutex mutex_;
  mutable std::unique_ptr<Workspace> pool_;  // the first of those not in use
};

// Collects the workspace's evidence: natural log of its probability, -infinity exactly when it is
// impossible.
double collect(Inference::Workspace& workspace);
// After collect() gave a finite result: makes the posteriors of the workspace's propagation.
void distribute(Inference::Workspace& workspace);

// For impossible evidence: known variables whose evidence is impossible together, none of which can
// be left out. Which one, when there are several such sets, depends on the order they were told in.
std::vector<Var> conflict(Inference::Workspace& workspace);

}  // namespace faultodds::network
