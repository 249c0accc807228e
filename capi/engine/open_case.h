// Evidence of one work order that is kept between calls, and the fleet call that assesses many at
// once. For programs that count in numbers; case documents are asked by questions.h. Used by one
// thread at a time. All throw Error; a StopScope ends them.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "capi/engine/loaded_model.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/said.h"
#include "core/error.h"

namespace faultodds::engine {

class OpenCase {
 public:
  explicit OpenCase(SharedModel model) : model_(std::move(model)) {}

  // Indices as the model numbers them; invalid_argument outside.
  void observe_outcome(std::uint32_t observation, std::uint32_t outcome);
  // Over the grades 0, 1, 2: finite numbers, 0 or more, not all 0; else invalid_argument.
  void observe_likelihood(std::uint32_t observation, const std::array<double, 3>& likelihood);
  // An entry of a case document's `observations`: an outcome, a reading, a repair, a test that is
  // not possible.
  void observe(std::string_view entry);
  // Takes back all that was said of an observation.
  void retract(std::uint32_t observation);
  // An id of a test's setup.
  void setup_done(std::string step);

  // After every change the assessment is gone until it is made again.
  void assess();
  const std::optional<diagnosis::Assessment>& assessment() const { return assessment_; }
  // The whole assessment as a document, with advice. Needs an assessment.
  std::string answer() const;

  const LoadedModel& model() const { return *model_; }

 private:
  friend std::vector<std::optional<Error>> assess_together(std::span<OpenCase* const>,
                                                           std::uint32_t);
  void check_observation(std::uint32_t observation) const;
  std::string next_pointer() const;
  void add(diagnosis::Evidence evidence);

  SharedModel model_;
  diagnosis::Case evidence_;
  diagnosis::Said said_;
  std::size_t entries_ = 0;  // observations and repairs, said before or not
  std::optional<diagnosis::Assessment> assessment_;
};

// Assesses distinct cases of one model, as each by itself to the bit, those with evidence on the
// same observations side by side, by `threads` (0: one). What was wrong with each, if anything;
// invalid_argument is thrown for cases that repeat or are of several models.
std::vector<std::optional<Error>> assess_together(std::span<OpenCase* const> cases,
                                                  std::uint32_t threads);

}  // namespace faultodds::engine
