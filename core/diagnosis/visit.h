// A visit to the machine: which tests fit into the minutes there are, sharing lockout and lines
// taken off, and what to bring. The tests are chosen to tell the most about the faults; what they
// are worth in money, and in which order the answers lead on, is advice.h's.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "core/diagnosis/case.h"
#include "core/diagnosis/cure.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/repair_items.h"

namespace faultodds::diagnosis {

struct VisitTest {
  std::uint32_t observation = 0;
  double minutes = 0;  // its own, and setup that no test before it did
  double bits = 0;     // what it adds to the tests before it
};

struct VisitPlan {
  double available = 0, minutes = 0;
  double information_bits = 0;  // all tests together, about the faults
  std::vector<VisitTest> tests;
  // The chosen tests tell at least this share of what the best choice would: information is
  // submodular in the tests (Krause & Guestrin 2005), and once the setups are paid for, greedy by
  // bits per minute or the best single test reaches (1 - 1/e)/2 of the best within a budget
  // (Leskovec et al. 2007). Every affordable combination of setups is tried. 0 when there were too
  // many for that, or more than kMostVisitTests tests would fit.
  double guarantee = 0;
};

// Tests of up to kMostVisitTests that look at a repair item, within `minutes`.
inline constexpr std::size_t kMostVisitTests = 6;
VisitPlan plan_visit(const Model& model, const Case& the_case, const CaseNumbers& numbers,
                     std::span<const RepairItem> items, Cure& cure, std::size_t observations,
                     double minutes);

// What a list of tests needs: adapters, plugs, cavity plugs and flow meters, each as often as the
// most any one test needs it, and the highest gauge pressure (Pa, 0 if none).
struct BringItem {
  std::string what, standard, size;
  std::size_t count = 0;
  std::vector<std::string> ports;
};
struct BringList {
  std::vector<BringItem> items;
  double gauge_pressure = 0;
};
BringList bring_list(const circuit::Analysis& analysis, std::span<const std::uint32_t> tests);

// I(faults; outcomes of all these tests | e) in bits, by every combination of outcomes.
double joint_information(const Model& model, const CaseNumbers& numbers,
                         std::span<const std::uint32_t> tests);

}  // namespace faultodds::diagnosis
