// A circuit compiled for diagnosis: its analysis, its priors and the inference program built from
// them. Immutable once made; any number of threads may assess cases against one Model at once.
#pragma once

#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "core/circuit/analysis.h"

namespace faultodds::diagnosis {

// Weibull wear-out of one mode: P(not sound at h hours) = 1 - exp(-(h/scale)^shape) where nobody
// looked before; what it makes of a case is at_hours()'s (evidence.h). Shape 1 is a constant rate.
struct WearOut {
  double shape = 1, scale_hours = 1;
  double failed_share = 0.5;  // of not sound: failed rather than worn
};

// One entry of a prior pack, as the engine uses it.
struct PackPrior {
  std::string type, mode;   // component type and mode name
  std::string asset_class;  // empty: every class
  std::optional<circuit::GradeDistribution> grades;
  // Used where the case gives the component's hours, or the meter's.
  std::optional<WearOut> wear_out;
};

// Outcome statistics learned by kind of observation (or for one observation id).
struct PackOutcomes {
  std::string observation;  // id; empty: every observation of `kind`
  std::optional<circuit::ObservationKind> kind;
  circuit::OutcomeModel model;
};

// How large a failure mode of a type is, where its component does not say.
struct PackSize {
  std::string type, mode;
  circuit::ModeSize size;
  bool operator==(const PackSize&) const = default;
};

struct Pack {
  std::string id, title;
  std::vector<PackPrior> priors;
  std::vector<PackOutcomes> outcomes;
  std::vector<PackSize> sizes;
};

class Program;  // the inference program; program.h

struct Options {
  // Bytes that a model may keep and use: inference tables, scratch space of calls in progress and
  // plans. Plans are dropped for it, the one unused longest first; what does not fit is refused or,
  // where the circuit's own tables do not fit, answered by other means (assessment.h).
  std::size_t memory_budget = std::size_t{128} << 20;
  // Of the model that this one is a part of, against whose budget it counts as well. Outlives it.
  const Program* whole = nullptr;
  // Whether the tree of the whole circuit knows of what operators report (circuit/reported.h). It
  // joins most of a circuit's modes, so that only models for cases that tell of it do.
  bool reports = false;
  // Bytes of that tree at most, whatever the budget; there is none where it would be larger.
  std::size_t largest_tree = static_cast<std::size_t>(-1);
};

class Model {
 public:
  // `asset_class` selects among a pack's entries. Throws Error.
  static Model compile(circuit::Analysis analysis, const Pack& pack,
                       const std::string& asset_class = {}, const Options& options = {});
  // The same where priors and statistics are as they shall be already. The lists are what
  // wear_out() and exact_prior() will return, one entry per mode.
  static Model compile(circuit::Analysis analysis, std::vector<std::optional<WearOut>> wear_out,
                       std::vector<std::optional<circuit::GradeDistribution>> exact_prior,
                       const Options& options = {});

  const circuit::Analysis& analysis() const { return *analysis_; }
  const Program& program() const { return *program_; }
  std::optional<std::uint32_t> find_observation(std::string_view id) const;
  std::optional<std::uint32_t> find_mode(std::string_view id) const;
  std::optional<std::uint32_t> find_setup(std::string_view id) const;
  std::optional<std::uint32_t> find_component(std::string_view id) const;
  // Wear-out model of each mode, where the pack has one.
  const std::vector<std::optional<WearOut>>& wear_out() const { return *wear_out_; }
  // The prior of a mode that has a wear-out model and a grade of probability 0: the compiled one
  // keeps every grade possible, and a case without the component's hours restores this one.
  const std::vector<std::optional<circuit::GradeDistribution>>& exact_prior() const {
    return *exact_prior_;
  }

 private:
  using Index = std::unordered_map<std::string_view, std::uint32_t>;
  struct Indices {
    Index observations, modes, setup, components;  // views into the analysis
  };
  std::shared_ptr<const circuit::Analysis> analysis_;
  std::shared_ptr<const Indices> indices_;
  std::shared_ptr<const Program> program_;
  std::shared_ptr<const std::vector<std::optional<WearOut>>> wear_out_;
  std::shared_ptr<const std::vector<std::optional<circuit::GradeDistribution>>> exact_prior_;
};

}  // namespace faultodds::diagnosis
