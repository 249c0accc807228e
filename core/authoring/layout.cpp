#include "core/authoring/layout.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>
#include <tuple>

#include "core/error.h"
#include "core/stop.h"

namespace faultodds::authoring {
namespace {

constexpr int kSweeps = 12;
constexpr double kMargin = 16, kGap = 14, kLabelGap = 6;

// A part, or a column in which a net passes a row.
struct Slot {
  std::size_t part = kNoPart, net = kNoPart;
  double place = 0;  // in its row, for ordering
  double x = 0;      // of the left edge
};

// The first of many tracks that ends before a place.
class Tracks {
 public:
  explicit Tracks(std::size_t most) {
    while (leaves_ < most) leaves_ *= 2;
    least_.assign(2 * leaves_, kFree);
  }
  // With an end before `place`; one that is free where no other has.
  std::size_t first_before(double place) const {
    std::size_t node = 1;
    while (node < leaves_) node = 2 * node + (least_[2 * node] < place ? 0 : 1);
    return node - leaves_;
  }
  void end(std::size_t track, double at) {
    count_ = std::max(count_, track + 1);
    std::size_t node = leaves_ + track;
    least_[node] = at;
    while (node /= 2) least_[node] = std::min(least_[2 * node], least_[2 * node + 1]);
  }
  std::size_t count() const { return count_; }  // of those that are not free

 private:
  static constexpr double kFree = -std::numeric_limits<double>::infinity();
  std::size_t leaves_ = 1, count_ = 0;
  std::vector<double> least_;  // a tree of the ends, of each half the least
};

class Laying {
 public:
  explicit Laying(Layout* layout) : layout_(*layout) {}

  void run() {
    layout_.segments.clear();
    layout_.joints.clear();
    for (const PlacedPart& part : layout_.parts) rows_ = std::max(rows_, part.row + 1);
    place_channels();
    fill_rows();
    pins_of_.resize(layout_.parts.size());
    for (std::size_t i = 0; i < layout_.pins.size(); ++i) {
      if (layout_.pins[i].net != kNoPart) pins_of_[layout_.pins[i].part].push_back(i);
    }
    met_.assign(layout_.nets, {0, 0});
    for (int sweep = 0; sweep < kSweeps; ++sweep) {
      check_stop();
      order(sweep % 2 == 0);
    }
    place_columns();
    place_rows();
    route();
  }

 private:
  // The channel of a pin: channel r lies below row r, channel r + 1 above it.
  int channel(const Pin& pin) const { return layout_.parts[pin.part].row + (pin.top ? 1 : 0); }

  // Which channels each net runs in: all from its lowest pin to its highest.
  void place_channels() {
    range_.assign(layout_.nets, {rows_ + 1, -1});
    for (const Pin& pin : layout_.pins) {
      if (pin.net == kNoPart) continue;
      auto& [low, high] = range_[pin.net];
      low = std::min(low, channel(pin));
      high = std::max(high, channel(pin));
    }
  }

  void fill_rows() {
    order_.resize(static_cast<std::size_t>(rows_));
    for (std::size_t p = 0; p < layout_.parts.size(); ++p) {
      if (layout_.parts[p].row != kNoRow) order_[row_of(p)].push_back({p, kNoPart, 0, 0});
    }
    std::size_t passages = 0;
    for (std::size_t net = 0; net < layout_.nets; ++net) {
      if (range_[net].second > range_[net].first) {
        passages += static_cast<std::size_t>(range_[net].second - range_[net].first);
      }
      if (passages > kMostPassages) {
        throw Error(Code::limit_exceeded, "lines would pass rows of the drawing at more than " +
                                              std::to_string(kMostPassages) +
                                              " places; expected a smaller circuit");
      }
      for (int row = range_[net].first; row < range_[net].second; ++row) {
        order_[static_cast<std::size_t>(row)].push_back({kNoPart, net, 0, 0});
      }
    }
    for (std::vector<Slot>& row : order_) number(&row);
  }
  std::size_t row_of(std::size_t part) const {
    return static_cast<std::size_t>(layout_.parts[part].row);
  }
  static void number(std::vector<Slot>* row) {
    for (std::size_t i = 0; i < row->size(); ++i) {
      (*row)[i].place = (static_cast<double>(i) + 0.5) / static_cast<double>(row->size());
    }
  }

  // Every row by the barycentres of what it is joined with in the rows passed before.
  void order(bool upwards) {
    for (std::size_t i = 0; i < order_.size(); ++i) {
      check_stop();
      const std::size_t r = upwards ? i : order_.size() - 1 - i;
      // Where each net is met in the row below or above, and in this row by others.
      for (const std::size_t net : met_nets_) met_[net] = {0, 0};
      met_nets_.clear();
      const auto meet_net = [&](std::size_t net, double place, double weight) {
        met_nets_.push_back(net);
        met_[net].first += place * weight;
        met_[net].second += static_cast<int>(weight);
      };
      const auto meet = [&](std::size_t row, double weight) {
        for (const Slot& slot : order_[row]) {
          if (slot.part == kNoPart) {
            meet_net(slot.net, slot.place, weight);
            continue;
          }
          for (const std::size_t pin : pins_of_[slot.part]) {
            meet_net(layout_.pins[pin].net, slot.place, weight);
          }
        }
      };
      if (r > 0) meet(r - 1, upwards ? 2 : 1);
      if (r + 1 < order_.size()) meet(r + 1, upwards ? 1 : 2);
      for (Slot& slot : order_[r]) {
        double sum = 0;
        int count = 0;
        const auto take = [&](std::size_t net) {
          sum += met_[net].first;
          count += met_[net].second;
        };
        if (slot.part == kNoPart) {
          take(slot.net);
        } else {
          for (const std::size_t pin : pins_of_[slot.part]) take(layout_.pins[pin].net);
        }
        if (count > 0) slot.place = 0.25 * slot.place + 0.75 * sum / count;
      }
      std::stable_sort(order_[r].begin(), order_[r].end(),
                       [](const Slot& a, const Slot& b) { return a.place < b.place; });
      number(&order_[r]);
    }
  }

  // Columns: pins of even rows on multiples of half the pin distance, those of odd rows a quarter
  // further, so that no two of neighbouring rows share one.
  void place_columns() {
    double widest = 0;
    std::vector<double> widths;
    for (std::size_t r = 0; r < order_.size(); ++r) {
      double x = 0;
      for (Slot& slot : order_[r]) {
        slot.x = x;
        x += slot.part == kNoPart ? kPinDistance : width_of(layout_.parts[slot.part]);
        x = std::ceil(x / kPinDistance) * kPinDistance;
      }
      widths.push_back(x);
      widest = std::max(widest, x);
    }
    for (std::size_t r = 0; r < order_.size(); ++r) {
      const double shift = kMargin +
                           std::floor((widest - widths[r]) / 2 / kPinDistance) * kPinDistance +
                           (r % 2 == 0 ? 0 : kPinDistance / 4);
      for (Slot& slot : order_[r]) slot.x += shift;
    }
    layout_.width = widest + 2 * kMargin + kPinDistance;
    layout_.row_widths = widths;
  }
  static double width_of(const PlacedPart& part) {
    return part.columns * kPinDistance + kLabelGap + part.label_width + kGap;
  }

  double column_of(const Slot& slot) const { return slot.x + kPinDistance / 2; }

  // Tracks of each channel, and by their number the heights of the rows.
  void place_rows() {
    for (std::size_t r = 0; r < order_.size(); ++r) {
      for (const Slot& slot : order_[r]) {
        if (slot.part == kNoPart) continue;
        PlacedPart& part = layout_.parts[slot.part];
        part.x = slot.x;
        part.width = part.columns * kPinDistance;
        part.height = kSymbolHeight;
      }
    }
    for (Pin& pin : layout_.pins) {
      pin.x = layout_.parts[pin.part].x + (pin.column + 0.5) * kPinDistance;
    }
    verticals_.resize(static_cast<std::size_t>(rows_) + 1);
    for (const Pin& pin : layout_.pins) {
      if (pin.net != kNoPart) {
        verticals_[static_cast<std::size_t>(channel(pin))][pin.net].insert(pin.x);
      }
    }
    for (std::size_t r = 0; r < order_.size(); ++r) {
      for (const Slot& slot : order_[r]) {
        if (slot.part != kNoPart) continue;
        verticals_[r][slot.net].insert(column_of(slot));
        verticals_[r + 1][slot.net].insert(column_of(slot));
      }
    }
    track_.resize(verticals_.size());
    for (std::size_t c = 0; c < verticals_.size(); ++c) assign_tracks(c);

    double y = kMargin;
    channel_top_.resize(verticals_.size());
    row_top_.resize(order_.size());
    for (std::size_t c = verticals_.size(); c-- > 0;) {
      channel_top_[c] = y + kStub;
      y += 2 * kStub + kTrackDistance * static_cast<double>(tracks_[c]);
      if (c == 0) break;
      row_top_[c - 1] = y;
      y += kSymbolHeight;
    }
    layout_.height = y + kMargin;
    for (PlacedPart& part : layout_.parts) {
      if (part.row != kNoRow) part.y = row_top_[static_cast<std::size_t>(part.row)];
    }
    for (Pin& pin : layout_.pins) {
      pin.y = layout_.parts[pin.part].y + (pin.top ? 0 : kSymbolHeight);
    }
  }

  // The left-edge algorithm.
  void assign_tracks(std::size_t c) {
    std::vector<std::pair<std::pair<double, double>, std::size_t>> nets;
    for (const auto& [net, columns] : verticals_[c]) {
      nets.push_back({{*columns.begin(), *columns.rbegin()}, net});
    }
    std::sort(nets.begin(), nets.end());
    Tracks ends(nets.size() + 1);
    for (const auto& [interval, net] : nets) {
      const std::size_t track = ends.first_before(interval.first);
      ends.end(track, interval.second + kPinDistance / 8);
      track_[c][net] = track;
    }
    tracks_.push_back(ends.count());
  }

  double track_y(std::size_t c, std::size_t net) const {
    return channel_top_[c] + kTrackDistance * (static_cast<double>(track_[c].at(net)) + 0.5);
  }

  void segment(std::size_t net, Point from, Point to) {
    if (from == to) return;
    layout_.segments.push_back({net, from, to});
    ++meets_[{net, from.x, from.y}];
    ++meets_[{net, to.x, to.y}];
  }

  void route() {
    for (const Pin& pin : layout_.pins) {
      if (pin.net == kNoPart) continue;
      const auto c = static_cast<std::size_t>(channel(pin));
      segment(pin.net, {pin.x, pin.y}, {pin.x, track_y(c, pin.net)});
    }
    for (std::size_t r = 0; r < order_.size(); ++r) {
      for (const Slot& slot : order_[r]) {
        if (slot.part != kNoPart) continue;
        const double x = column_of(slot);
        segment(slot.net, {x, track_y(r, slot.net)}, {x, track_y(r + 1, slot.net)});
      }
    }
    for (std::size_t c = 0; c < verticals_.size(); ++c) {
      for (const auto& [net, columns] : verticals_[c]) {
        const double y = track_y(c, net);
        double last = *columns.begin();
        for (const double x : columns) {
          segment(net, {last, y}, {x, y});
          last = x;
        }
      }
    }
    for (const auto& [where, count] : meets_) {
      if (count > 2) layout_.joints.push_back({std::get<1>(where), std::get<2>(where)});
    }
  }

  Layout& layout_;
  int rows_ = 0;
  std::vector<std::pair<int, int>> range_;         // channels of each net
  std::vector<std::vector<Slot>> order_;           // by row
  std::vector<std::vector<std::size_t>> pins_of_;  // by part, of those in nets
  std::vector<std::pair<double, int>> met_;        // by net: where it is met, and how often
  std::vector<std::size_t> met_nets_;              // those of which met_ is not empty
  std::vector<std::map<std::size_t, std::set<double>>> verticals_;  // by channel: columns of nets
  std::vector<std::map<std::size_t, std::size_t>> track_;           // by channel
  std::vector<std::size_t> tracks_;                                 // by channel
  std::vector<double> channel_top_, row_top_;
  std::map<std::tuple<std::size_t, double, double>, int> meets_;
};

}  // namespace

void lay_out(Layout* layout) { Laying(layout).run(); }

std::vector<Point> line_between(const std::vector<Segment>& of_net, Point from, Point to) {
  const auto key = [](Point p) { return std::pair(p.x, p.y); };
  std::map<std::pair<double, double>, std::vector<Point>> next;
  for (const Segment& one : of_net) {
    next[key(one.from)].push_back(one.to);
    next[key(one.to)].push_back(one.from);
  }
  std::map<std::pair<double, double>, Point> by;
  std::vector<Point> left = {from};
  by[key(from)] = from;
  for (std::size_t i = 0; i < left.size() && by.count(key(to)) == 0; ++i) {
    for (const Point& there : next[key(left[i])]) {
      if (by.emplace(key(there), left[i]).second) left.push_back(there);
    }
  }
  std::vector<Point> points;
  if (by.count(key(to)) == 0) return points;
  for (Point at = to; !(at == from); at = by[key(at)]) points.push_back(at);
  points.push_back(from);
  std::reverse(points.begin(), points.end());
  return points;
}

}  // namespace faultodds::authoring
