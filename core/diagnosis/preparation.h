// What has to be done before a test is made, and whether it can be made at all by those who are
// there in the time there is: the circuit's setup steps and, numbered after them, what a case says
// of the work besides (case.h). A step done serves every later test of the visit. It chooses
// nothing.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"
#include "core/message.h"

namespace faultodds::diagnosis {

// Of the case's own steps, as `Case::setup_done` names them.
inline constexpr const char* kFetch = "fetch";                 // what is not at hand
inline constexpr const char* kSecondPerson = "second_person";  // to come and help
inline constexpr const char* kBlockLoad = "block_load";        // mechanically

// Why a test is not proposed though the circuit has it.
struct NotProposed {
  std::uint32_t observation = 0;
  enum class Reason { people, time } reason = Reason::people;
  Message why;
};

// Whether nobody has to wait for a new one.
bool is_at_hand(const circuit::Component& component, const Work& work);

class Preparation {
 public:
  // Both are kept by reference.
  Preparation(const Model& model, const Case& the_case);

  // The circuit's steps, then the case's.
  std::size_t steps() const { return of_circuit_ + own_.size(); }
  const circuit::SetupStep& step(std::uint32_t i) const;
  bool is_of_circuit(std::uint32_t i) const { return i < of_circuit_; }
  // Those before a test, in the order done.
  std::vector<std::uint32_t> of(std::uint32_t observation) const;
  bool knows(const std::string& id) const;
  // Which are done, as the case says.
  const std::vector<bool>& done() const { return done_; }
  // With the steps left to do.
  double minutes(std::uint32_t observation, const std::vector<bool>& done) const;

  // Whether it may be made as the circuit stands, can be on this machine, by these people, in time.
  bool may_propose(std::uint32_t observation) const;
  // Nothing where people and time suffice.
  std::optional<NotProposed> refused(std::uint32_t observation) const;

 private:
  bool has_all_fittings(const circuit::Observation& observation) const;

  const Model& model_;
  const circuit::Analysis& analysis_;
  const Case& case_;
  std::size_t of_circuit_ = 0;
  std::vector<circuit::SetupStep> own_;
  std::vector<bool> done_;
};

}  // namespace faultodds::diagnosis
