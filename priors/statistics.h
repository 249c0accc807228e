// What the records amount to: integer counts that add up in any order, so that merging the
// statistics of several depots is pooling their records, exactly. No estimate is made here
// (pack.h).
//
// Lives are counted in bins of hours of three significant digits (intervals between inspections: of
// two), which bounds memory and moves a fitted scale by less than 0.1 %. What is counted as a life:
//   found failed, or ungraded     ended at the hours of the finding; between `sound_at` and them
//   when
//                                the order says when it was last sound
//   found worn                   became so before the hours of the finding (after `sound_at`)
//   found sound                  still sound at those hours
//   in service (exposure, age)   still sound at that age
// What an order tells of hours whose records begin at `entry` counts from there on. Where orders
// name the asset, a part that was found sound before is the same life (its position tells it from
// others of the type), and one found bad again in the same way within two weeks is the same
// failure. Without an asset each counts by itself: orders seldom say which is which.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <tuple>
#include <unordered_map>
#include <utility>
#include <vector>

#include "priors/records.h"
#include "priors/wear_out.h"

namespace faultodds::priors {

// Counts by hours, rounded to so many significant digits.
class HourCounts {
 public:
  explicit HourCounts(int digits = 3) : digits_(digits) {}

  void add(double hours, std::uint64_t count = 1);
  void add(const HourCounts& other);
  void take_off(double hours);                                  // one of them, if there is one
  std::vector<std::pair<double, std::uint64_t>> items() const;  // ascending hours
  std::uint64_t total() const { return total_; }
  bool operator==(const HourCounts&) const = default;

 private:
  int digits_;
  std::uint64_t total_ = 0;
  // By decade of hours, from 0.01 h; empty until something is counted in it.
  std::array<std::vector<std::uint64_t>, 11> decades_;
};

double rounded_hours(double hours, int digits);

// Of one failure mode of one type in one asset class.
struct ModeStatistics {
  std::uint64_t sound = 0;             // examined and found sound
  std::uint64_t worn = 0, failed = 0;  // found so
  std::uint64_t ungraded = 0;          // found not sound, the grade not recorded
  HourCounts failed_at{3}, sound_at{3}, worn_before{3};
  using Pairs = std::map<std::pair<double, double>, std::uint64_t>;
  Pairs between;                  // last sound, found not sound
  Pairs late_failed, late_sound;  // where records begin, and hours

  void add(const ModeStatistics& other);
  std::vector<Life> lives() const;  // without those of exposure
  bool operator==(const ModeStatistics&) const = default;
};

// Orders that name several modes as possible: at least one of them was not sound.
struct Candidates {
  std::vector<std::string> modes;  // as in the vocabulary's order
  bool operator==(const Candidates&) const = default;
  bool operator<(const Candidates& other) const { return modes < other.modes; }
};

struct CandidateCounts {
  std::uint64_t worn = 0, failed = 0, ungraded = 0;
  bool operator==(const CandidateCounts&) const = default;
};

struct TypeStatistics {
  std::map<std::string, ModeStatistics> modes;
  std::map<Candidates, CandidateCounts> ambiguous;
  std::uint64_t orders = 0;      // that examined a component of this type
  std::uint64_t complained = 0;  // of them, because of a complaint that is told
  std::uint64_t in_service = 0, installs = 0, renewals = 0;
  std::int64_t centihours = 0;      // run by all in service, hundredths of an hour
  HourCounts running{3};            // ages of those in service
  std::optional<Date> first, last;  // closed orders

  void add(const TypeStatistics& other);
  bool operator==(const TypeStatistics&) const = default;
};

struct Statistics {
  struct Key {
    std::string type, asset_class;
    bool operator==(const Key&) const = default;
    bool operator<(const Key& other) const {
      return std::tie(type, asset_class) < std::tie(other.type, other.asset_class);
    }
  };
  std::map<Key, TypeStatistics> types;

  void add(const Statistics& other);
  bool operator==(const Statistics&) const = default;
};

// Adds up records as they are read. Where one mode is named, the other modes of that component are
// taken as examined and found sound unless `others_sound` is false.
class Tally {
 public:
  explicit Tally(const Vocabulary& vocabulary, bool others_sound = true);

  void add(const WorkOrder& order);
  void add(const Exposure& exposure);
  const Statistics& statistics() const { return statistics_; }
  std::uint64_t repeats() const { return repeats_; }         // orders of a failure counted before
  std::uint64_t not_looked_at() const { return unlooked_; }  // findings booked as proposed

 private:
  struct Cell {
    TypeStatistics* type = nullptr;
    std::vector<ModeStatistics*> modes;
  };

  // What was last found of a part.
  struct Part {
    Cell* cell = nullptr;
    double sound_at = 0;  // hours counted as a life that goes on; 0: none
    double entry = 0;     // where its records begin
    std::optional<std::uint32_t> bad;
    Date closed;
  };

  Cell& cell(std::uint32_t type, std::string_view asset_class);
  Part* part(const WorkOrder& order);
  static void take_off(const Part& part, ModeStatistics& mode);
  static void add_sound(const WorkOrder& order, ModeStatistics& mode, bool known_longer);
  // Of what was counted of the part: the same failure again, the hours it was sound until then, and
  // whether it is known as sound for longer than the order says.
  bool same_failure(const WorkOrder& order, Cell& here, double& sound_before, bool& known_longer);
  void add_life(const WorkOrder& order, ModeStatistics& mode, double sound_before);

  const Vocabulary* vocabulary_;
  bool others_sound_;
  Statistics statistics_;
  std::map<std::string, std::vector<Cell>, std::less<>> cells_;
  std::string last_class_;
  std::vector<Cell>* last_ = nullptr;
  std::unordered_map<std::string, Part> parts_;
  std::uint64_t repeats_ = 0, unlooked_ = 0;
};

}  // namespace faultodds::priors
