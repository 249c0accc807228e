// What the hypotheses of a case tell apart and what each set shows by it: the steps before they are
// looked for. Of hypotheses.cpp alone; it weighs nothing that was observed.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "core/diagnosis/hypothesis_search.h"
#include "core/diagnosis/mode_states.h"

namespace faultodds::diagnosis {

// What is told apart, and by which variables: the first three steps of making hypotheses.
struct Hypotheses::Layout {
  Hypotheses& into;
  const Model& model;
  const CaseNumbers& numbers;
  Search& search;
  const circuit::Analysis& analysis = model.analysis();
  SetLinks links{analysis};
  std::vector<bool> needed{}, told{};    // observations: by the evidence and the complaint; by any
  std::vector<StateClasses> classes{};   // by mode
  std::vector<std::int32_t> variable{};  // of a condition; -1: none
  // By mode, state: P(it | its class), of a mode without a variable P(it).
  std::vector<std::vector<double>> within{};

  void find_needed(std::span<const std::uint32_t> complaint, std::span<const std::uint32_t> asked);

  // Which states are told apart: by all that is told where that is few enough joint states, else
  // by what is needed.
  void choose_variables();

  // Of these modes and the conditions on them. How many joint states they have.
  double set_variables(const std::vector<bool>& of, const std::vector<StatesAlike>& alike);

  void weigh_modes();

  // The grades of a mode without a variable, other conditions than those of variables averaged.
  void weigh_free(std::uint32_t m, const std::vector<std::vector<double>>& rows);

  void weigh_variable(std::uint32_t m, const std::vector<std::vector<double>>& rows);

  void make_tables();

  SetTable table_of(const circuit::ModeSet& set, const circuit::Observation& observation);
};

}  // namespace faultodds::diagnosis
