#include "priors/statistics.h"

#include <algorithm>
#include <cmath>

#include "core/error.h"

namespace faultodds::priors {
namespace {

// Hours from 0.01 to just under 1e9, as digits times a power of ten.
constexpr int lowest_power = -2;
constexpr std::size_t decades = 11;
constexpr double powers[] = {1e-2, 1e-1, 1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9};

constexpr std::size_t tens[] = {1, 10, 100, 1000};
constexpr std::size_t ten_to(int digits) { return tens[digits]; }

struct Bin {
  std::size_t decade = 0, place = 0;  // hours = (10^(digits-1) + place) * 10^(decade - 1 - digits)
};

// What is below 0.01 h goes to the first bin, what is 1e9 h and more to the last.
Bin bin_of(double hours, int digits) {
  if (!(hours >= powers[0])) return {};
  const std::size_t low = ten_to(digits - 1);
  std::size_t decade = 0;
  while (decade + 1 < decades && hours >= powers[decade + 1]) ++decade;
  auto mantissa = static_cast<std::size_t>(
      std::min(hours, powers[decades]) / powers[decade] * static_cast<double>(low) + 0.5);
  if (mantissa >= low * 10) {  // 9.996 rounds up into the next decade
    if (decade + 1 < decades) {
      ++decade;
      mantissa = low;
    } else {
      mantissa = low * 10 - 1;
    }
  }
  return {decade, mantissa - low};
}

double hours_of(const Bin& bin, int digits) {
  const auto mantissa = static_cast<double>(ten_to(digits - 1) + bin.place);
  // One rounding only: a product or quotient of two exact numbers.
  const int power = static_cast<int>(bin.decade) + lowest_power - (digits - 1);
  double scale = 1;
  for (int i = 0; i < std::abs(power); ++i) scale *= 10;
  return power >= 0 ? mantissa * scale : mantissa / scale;
}

}  // namespace

double rounded_hours(double hours, int digits) { return hours_of(bin_of(hours, digits), digits); }

void HourCounts::add(double hours, std::uint64_t count) {
  if (count == 0) return;
  const Bin bin = bin_of(hours, digits_);
  std::vector<std::uint64_t>& places = decades_[bin.decade];
  if (places.empty()) places.assign(9 * ten_to(digits_ - 1), 0);
  places[bin.place] += count;
  total_ += count;
}

void HourCounts::add(const HourCounts& other) {
  if (other.total_ == 0) return;
  if (other.digits_ != digits_) {
    throw Error(Code::internal, "hour counts of different rounding were added");
  }
  for (std::size_t d = 0; d < decades; ++d) {
    const std::vector<std::uint64_t>& from = other.decades_[d];
    if (from.empty()) continue;
    if (decades_[d].empty()) decades_[d].assign(from.size(), 0);
    for (std::size_t i = 0; i < from.size(); ++i) decades_[d][i] += from[i];
  }
  total_ += other.total_;
}

void HourCounts::take_off(double hours) {
  const Bin bin = bin_of(hours, digits_);
  std::vector<std::uint64_t>& places = decades_[bin.decade];
  if (places.empty() || places[bin.place] == 0) return;
  --places[bin.place];
  --total_;
  if (std::all_of(places.begin(), places.end(), [](std::uint64_t n) { return n == 0; })) {
    places.clear();
  }
}

std::vector<std::pair<double, std::uint64_t>> HourCounts::items() const {
  std::vector<std::pair<double, std::uint64_t>> items;
  for (std::size_t d = 0; d < decades; ++d) {
    for (std::size_t i = 0; i < decades_[d].size(); ++i) {
      if (decades_[d][i] > 0) items.emplace_back(hours_of({d, i}, digits_), decades_[d][i]);
    }
  }
  return items;
}

void ModeStatistics::add(const ModeStatistics& other) {
  sound += other.sound;
  worn += other.worn;
  failed += other.failed;
  ungraded += other.ungraded;
  failed_at.add(other.failed_at);
  sound_at.add(other.sound_at);
  worn_before.add(other.worn_before);
  for (const auto& [hours, count] : other.between) between[hours] += count;
  for (const auto& [hours, count] : other.late_failed) late_failed[hours] += count;
  for (const auto& [hours, count] : other.late_sound) late_sound[hours] += count;
}

std::vector<Life> ModeStatistics::lives() const {
  std::vector<Life> lives;
  for (const auto& [hours, count] : failed_at.items()) {
    lives.push_back(Life::failed_at(hours, static_cast<double>(count)));
  }
  for (const auto& [hours, count] : sound_at.items()) {
    lives.push_back(Life::sound_at(hours, static_cast<double>(count)));
  }
  for (const auto& [hours, count] : worn_before.items()) {
    lives.push_back(Life::failed_before(hours, static_cast<double>(count)));
  }
  for (const auto& [hours, count] : between) {
    lives.push_back(Life::failed_between(hours.first, hours.second, static_cast<double>(count)));
  }
  for (const auto& [hours, count] : late_failed) {
    lives.push_back({hours.second, hours.second, static_cast<double>(count), hours.first});
  }
  for (const auto& [hours, count] : late_sound) {
    Life life = Life::sound_at(hours.second, static_cast<double>(count));
    life.entry = hours.first;
    lives.push_back(life);
  }
  return lives;
}

void TypeStatistics::add(const TypeStatistics& other) {
  for (const auto& [mode, statistics] : other.modes) modes[mode].add(statistics);
  for (const auto& [candidates, counts] : other.ambiguous) {
    CandidateCounts& sum = ambiguous[candidates];
    sum.worn += counts.worn;
    sum.failed += counts.failed;
    sum.ungraded += counts.ungraded;
  }
  orders += other.orders;
  complained += other.complained;
  in_service += other.in_service;
  installs += other.installs;
  renewals += other.renewals;
  centihours += other.centihours;
  running.add(other.running);
  if (other.first && (!first || *other.first < *first)) first = other.first;
  if (other.last && (!last || *other.last > *last)) last = other.last;
}

void Statistics::add(const Statistics& other) {
  for (const auto& [key, statistics] : other.types) types[key].add(statistics);
}

Tally::Tally(const Vocabulary& vocabulary, bool others_sound)
    : vocabulary_(&vocabulary), others_sound_(others_sound) {}

Tally::Cell& Tally::cell(std::uint32_t type, std::string_view asset_class) {
  if (last_ == nullptr || last_class_ != asset_class) {
    auto found = cells_.find(asset_class);
    if (found == cells_.end()) {
      found = cells_.emplace(std::string(asset_class), std::vector<Cell>(vocabulary_->types.size()))
                  .first;
    }
    last_class_ = std::string(asset_class);
    last_ = &found->second;
  }
  Cell& cell = (*last_)[type];
  if (cell.type == nullptr) {
    const Vocabulary::Type& entry = vocabulary_->types[type];
    // Nodes of a map stay where they are.
    cell.type = &statistics_.types[{entry.name, last_class_}];
    for (const Vocabulary::Mode& mode : entry.modes) {
      cell.modes.push_back(&cell.type->modes[mode.name]);
    }
  }
  return cell;
}

Tally::Part* Tally::part(const WorkOrder& order) {
  constexpr std::size_t most_parts = 2'000'000;  // kept at once
  if (order.asset.empty()) return nullptr;
  std::string key(order.asset);
  key += '\x1f';
  key += order.position.empty() ? vocabulary_->types[order.type].name : order.position;
  const auto known = parts_.find(key);
  if (known != parts_.end()) return &known->second;
  if (parts_.size() >= most_parts) return nullptr;
  return &parts_.emplace(std::move(key), Part{}).first->second;
}

// What was counted of a part that went on since.
void Tally::take_off(const Part& part, ModeStatistics& mode) {
  if (!(part.entry > 0)) {
    mode.sound_at.take_off(part.sound_at);
    return;
  }
  const auto at =
      mode.late_sound.find({rounded_hours(part.entry, 2), rounded_hours(part.sound_at, 3)});
  if (at != mode.late_sound.end() && --at->second == 0) mode.late_sound.erase(at);
}

void Tally::add_life(const WorkOrder& order, ModeStatistics& mode, double sound_before) {
  if (!order.hours || !(*order.hours > 0)) return;
  if (order.entry && *order.entry > 0) {
    const double entry = rounded_hours(*order.entry, 2), hours = rounded_hours(*order.hours, 3);
    if (order.grade != 1 && entry < hours) ++mode.late_failed[{entry, hours}];
    return;
  }
  std::optional<double> sound_at = order.sound_at;
  if (!sound_at && order.grade == 1 && sound_before > 0) sound_at = sound_before;
  if (sound_at && *sound_at > 0) {
    const double low = rounded_hours(*sound_at, 2), high = rounded_hours(*order.hours, 2);
    if (low < high) {
      ++mode.between[{low, high}];
      return;
    }
  }
  // Last known sound when it was new: at some time since.
  const bool since_new = sound_at && *sound_at <= 0;
  (order.grade == 1 || since_new ? mode.worn_before : mode.failed_at).add(*order.hours);
}

void Tally::add_sound(const WorkOrder& order, ModeStatistics& mode, bool known_longer) {
  ++mode.sound;
  if (!order.hours || !(*order.hours > 0) || known_longer) return;
  if (order.entry && *order.entry > 0) {
    const double entry = rounded_hours(*order.entry, 2), hours = rounded_hours(*order.hours, 3);
    if (entry < hours) ++mode.late_sound[{entry, hours}];
    return;
  }
  mode.sound_at.add(*order.hours);
}

bool Tally::same_failure(const WorkOrder& order, Cell& here, double& sound_before,
                         bool& known_longer) {
  constexpr std::int32_t same_failure_days = 14;
  Part* const before = part(order);
  if (before != nullptr) {
    const std::int32_t days = order.closed.days - before->closed.days;
    if (before->bad && order.modes.size() == 1 && *before->bad == order.modes[0] && days >= 0 &&
        days <= same_failure_days) {
      ++repeats_;
      return true;
    }
    if (before->sound_at > 0 && order.hours && before->cell == &here) {
      if (*order.hours >= before->sound_at) {
        sound_before = before->sound_at;
        for (ModeStatistics* mode : here.modes) take_off(*before, *mode);
      } else {
        known_longer = order.modes.empty();
      }
    }
    if (!known_longer) {
      const bool sound = order.modes.empty() && order.hours && *order.hours > 0;
      *before = {&here, sound ? *order.hours : 0, order.entry.value_or(0), std::nullopt,
                 order.closed};
    }
    if (order.modes.size() == 1) before->bad = order.modes[0];
  }
  return false;
}

void Tally::add(const WorkOrder& order) {
  Cell& here = cell(order.type, order.asset_class);
  TypeStatistics& type = *here.type;
  ++type.orders;
  if (!order.complaint.empty()) ++type.complained;
  if (!type.first || order.closed < *type.first) type.first = order.closed;
  if (!type.last || order.closed > *type.last) type.last = order.closed;
  // Booked as it was proposed: it proves nothing.
  if (order.confirmed == false && !order.modes.empty()) {
    ++unlooked_;
    return;
  }
  double sound_before = 0;
  bool known_longer = false;
  if (same_failure(order, here, sound_before, known_longer)) return;
  const auto found_sound = [&](ModeStatistics& mode) { add_sound(order, mode, known_longer); };
  if (order.modes.size() <= 1) {
    for (std::size_t m = 0; m < here.modes.size(); ++m) {
      if (order.modes.empty() || (others_sound_ && m != order.modes[0])) {
        found_sound(*here.modes[m]);
      }
    }
    if (order.modes.empty()) return;
    ModeStatistics& mode = *here.modes[order.modes[0]];
    ++(order.grade == 1 ? mode.worn : order.grade == 2 ? mode.failed : mode.ungraded);
    add_life(order, mode, sound_before);
    return;
  }
  // Ambiguous: those not named were found sound; those named wait for the estimate.
  Candidates candidates;
  for (std::uint32_t m : order.modes) {
    candidates.modes.push_back(vocabulary_->types[order.type].modes[m].name);
  }
  if (others_sound_) {
    for (std::uint32_t m = 0; m < here.modes.size(); ++m) {
      if (std::find(order.modes.begin(), order.modes.end(), m) == order.modes.end()) {
        found_sound(*here.modes[m]);
      }
    }
  }
  CandidateCounts& counts = type.ambiguous[std::move(candidates)];
  ++(order.grade == 1 ? counts.worn : order.grade == 2 ? counts.failed : counts.ungraded);
}

void Tally::add(const Exposure& exposure) {
  TypeStatistics& type = *cell(exposure.type, exposure.asset_class).type;
  type.in_service += exposure.in_service;
  type.installs += exposure.installs;
  type.renewals += exposure.renewals;
  type.centihours += exposure.centihours;
  if (exposure.age && *exposure.age > 0) type.running.add(*exposure.age, exposure.in_service);
}

}  // namespace faultodds::priors
