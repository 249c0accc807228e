#include "capi/documents/circuit_drawing.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "capi/documents/circuit_check.h"
#include "capi/documents/circuit_explain.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/circuit_symbols.h"
#include "capi/documents/drawing_overlay.h"
#include "capi/documents/drawing_text.h"
#include "capi/documents/html_text.h"
#include "core/authoring/layout.h"
#include "core/authoring/ways.h"
#include "core/circuit/analysis.h"
#include "core/circuit/hydraulic_graph.h"
#include "core/circuit/order.h"
#include "core/circuit/structure.h"
#include "core/circuit/type_check.h"
#include "core/reading/units.h"
#include "core/stop.h"

namespace faultodds::documents {
namespace {

using authoring::kNoPart;
using authoring::kPinDistance;
using authoring::Layout;
using authoring::Pin;
using authoring::PlacedPart;
using authoring::Point;
using circuit::ComponentType;
using circuit::Index;
using circuit::kNone;
using circuit::Structure;

// Widths of a character, forced by textLength: of labels, of port names and of the heading.
constexpr double kCharacter = 5.6, kSmall = 4.4, kHeading = 7;
constexpr std::size_t kLabelLine = 18;  // characters
constexpr double kTextLine = 11;
constexpr std::size_t kManyParts = 200;
constexpr double kNarrow = 500;  // below it labels are narrower
constexpr std::size_t kNarrowLabelLine = 13;

std::string number(double value) { return drawing_number(value); }

class Drawing {
 public:
  // All outlive it.
  Drawing(const circuit::Description& description, const circuit::Analysis& analysis,
          const std::vector<ComponentType>& catalogue, Overlay overlay, const DrawingView& view)
      : description_(description),
        analysis_(analysis),
        structure_(circuit::resolve(description_, catalogue, {})),
        graph_(structure_),
        joined_to_tank_(authoring::Ways(graph_).joined(structure_.tank())),
        overlay_(std::move(overlay)),
        view_(view),
        kept_(structure_.type.size(), true) {}

  std::string write() {
    find_nets();
    find_rows();
    if (view_.concerned) {
      kept_ = concerned_parts(graph_, analysis_, overlay_);
      if (std::find(kept_.begin(), kept_.end(), true) == kept_.end()) return "";
      find_nets();
      close_rows();
    }
    for (Index c = 0; c < structure_.type.size(); ++c) {
      double width = 0;
      for (const std::string& line : label(c)) {
        width = std::max(width, kCharacter * static_cast<double>(line.size()));
      }
      layout_.parts[c].label_width = width;
    }
    do {
      check_stop();
      place_pins();
      authoring::lay_out(&layout_);
    } while (view_.width > 0 && layout_.width > view_.width && divide_rows());
    return svg();
  }

 private:
  static constexpr std::size_t kAtTank = kNoPart - 1;

  // What is left of the rows, without the empty ones.
  void close_rows() {
    std::map<int, int> rows;
    for (Index c = 0; c < kept_.size(); ++c) {
      if (kept_[c]) rows[layout_.parts[c].row] = 0;
    }
    int next = 0;
    for (auto& [row, closed] : rows) closed = next++;
    for (Index c = 0; c < kept_.size(); ++c) {
      layout_.parts[c].row = kept_[c] ? rows.at(layout_.parts[c].row) : authoring::kNoRow;
    }
  }

  // Makes two of the widest row, the right half above; of many parts, of every row that is too
  // wide. False where nothing was divided.
  bool divide_rows() {
    const std::vector<double>& widths = layout_.row_widths;
    const auto widest = std::max_element(widths.begin(), widths.end()) - widths.begin();
    std::vector<std::vector<std::pair<double, Index>>> in_row(widths.size());
    for (Index c = 0; c < kept_.size(); ++c) {
      const PlacedPart& part = layout_.parts[c];
      if (kept_[c]) in_row[static_cast<std::size_t>(part.row)].emplace_back(part.x, c);
    }
    const bool many = kept_.size() > kManyParts;
    int divided = 0;
    for (std::size_t r = 0; r < in_row.size(); ++r) {
      for (const auto& [x, c] : in_row[r]) layout_.parts[c].row += divided;
      if (in_row[r].size() < 2) continue;
      if (many ? widths[r] <= view_.width : static_cast<std::ptrdiff_t>(r) != widest) continue;
      std::sort(in_row[r].begin(), in_row[r].end());
      for (std::size_t i = (in_row[r].size() + 1) / 2; i < in_row[r].size(); ++i) {
        ++layout_.parts[in_row[r][i].second].row;
      }
      ++divided;
    }
    return divided > 0;
  }

  std::string title_of(Index c) const {
    if (view_.titles != nullptr) {
      const auto found = view_.titles->find(description_.components[c].id);
      if (found != view_.titles->end()) return found->second;
    }
    return structure_.component_title(c);
  }

  std::vector<std::string> label(Index c) const {
    const bool narrow = view_.width > 0 && view_.width < kNarrow;
    std::vector<std::string> lines =
        wrapped(title_of(c), narrow ? kNarrowLabelLine : kLabelLine, 3);
    const circuit::Component& one = description_.components[c];
    std::string value;
    if (one.setting) value = reading::format_pressure(*one.setting);
    if (one.bore && one.rod) {
      value = reading::format_number(*one.bore * 1e3) + "/" +
              reading::format_number(*one.rod * 1e3) + " mm";
    }
    if (one.rated_flow) value = reading::format_number(*one.rated_flow * 6e4) + " L/min";
    if (!value.empty()) lines.push_back(value);
    const auto suspect = overlay_.suspects.find(one.id);
    if (suspect != overlay_.suspects.end() && suspect->second >= 0.005) {
      lines.push_back(reading::format_number(std::round(100 * suspect->second)) + " %");
    }
    return lines;
  }

  std::vector<bool> vertices_at_tank() const {
    std::vector<bool> at_tank(structure_.vertex_count, false);
    at_tank[structure_.tank()] = true;
    for (Index c = 0; c < structure_.type.size(); ++c) {
      if (structure_.type[c]->name != "tank") continue;
      for (Index v = structure_.first_volume[c]; v < structure_.first_volume[c + 1]; ++v) {
        at_tank[structure_.gallery[v]] = true;
      }
    }
    return at_tank;
  }

  // What is joined with nothing that is drawn.
  void leave_alone(const std::set<Index>& joined_elsewhere) {
    std::vector<std::size_t> pins(layout_.nets, 0);
    for (const std::size_t net : net_of_) {
      if (net < layout_.nets) ++pins[net];
    }
    for (Index v = 0; v < net_of_.size(); ++v) {
      const bool alone = net_of_[v] < layout_.nets && pins[net_of_[v]] < 2;
      const bool left = net_of_[v] == kNoPart && structure_.volume_component[v] != kNone &&
                        joined_elsewhere.count(structure_.gallery[v]) != 0;
      if (alone) net_of_[v] = kNoPart;
      if (alone || left) cut_.insert(v);
    }
  }

  // Galleries, and lines between two of them. What is joined to the tank at a port is drawn there.
  void find_nets() {
    layout_.nets = 0;
    cut_.clear();
    tank_lines_.clear();
    const std::vector<bool> at_tank = vertices_at_tank();
    std::map<Index, std::vector<Index>> members;  // vertex -> ports of what is drawn
    std::set<Index> joined_elsewhere;             // vertices at which others are joined too
    for (Index c = 0; c < structure_.type.size(); ++c) {
      const std::size_t ports = structure_.type[c]->ports.size();
      for (std::size_t p = 0; p < ports; ++p) {
        const Index volume = structure_.first_volume[c] + static_cast<Index>(p);
        if (kept_[c]) {
          members[structure_.gallery[volume]].push_back(volume);
        } else {
          joined_elsewhere.insert(structure_.gallery[volume]);
        }
      }
    }
    net_of_.assign(structure_.gallery.size(), kNoPart);
    std::map<Index, std::size_t> net_of_vertex;
    std::set<Index> with_lines;
    for (const circuit::Line& line : structure_.lines) {
      for (const circuit::LineEnd& end : line.ends)
        with_lines.insert(structure_.gallery[end.volume]);
    }
    for (const auto& [vertex, ports] : members) {
      for (const Index port : ports) {
        if (at_tank[vertex]) net_of_[port] = kAtTank;
      }
      if (at_tank[vertex] || (ports.size() < 2 && with_lines.count(vertex) == 0)) continue;
      net_of_vertex[vertex] = layout_.nets++;
      for (const Index port : ports) net_of_[port] = net_of_vertex[vertex];
    }
    // A line joins two nets: drawn, they are one.
    std::vector<std::size_t> root(layout_.nets);
    for (std::size_t n = 0; n < root.size(); ++n) root[n] = n;
    const auto find = [&](std::size_t n) {
      while (root[n] != n) n = root[n] = root[root[n]];
      return n;
    };
    for (const circuit::Line& line : structure_.lines) {
      const Index one = structure_.gallery[line.ends[0].volume];
      const Index other = structure_.gallery[line.ends[1].volume];
      if (at_tank[one] || at_tank[other]) {
        for (const Index vertex : {one, other}) {
          if (at_tank[vertex]) continue;
          for (const Index port : members[vertex]) tank_lines_.insert(port);
        }
        continue;
      }
      if (net_of_vertex.count(one) == 0 || net_of_vertex.count(other) == 0) continue;
      root[find(net_of_vertex.at(one))] = find(net_of_vertex.at(other));
    }
    for (std::size_t& net : net_of_) {
      if (net < layout_.nets) net = find(net);
    }
    leave_alone(joined_elsewhere);
  }

  // Rows: what lies between the tank and a pump, or between a return line and the tank, below; then
  // by the number of galleries from the pump; actuators on top.
  void find_rows() {
    const std::size_t count = structure_.type.size();
    std::vector<int> row(count, -1);
    std::map<std::size_t, std::vector<Index>> parts_of;  // by net
    for (Index v = 2; v < structure_.gallery.size(); ++v) {
      if (net_of_[v] < layout_.nets) parts_of[net_of_[v]].push_back(structure_.volume_component[v]);
    }
    std::vector<Index> queue;
    const auto is_source = [&](Index c) {
      const ComponentType& type = *structure_.type[c];
      return type.flow_test && type.directions.empty();
    };
    for (Index c = 0; c < count; ++c) {
      if (!is_source(c)) continue;
      row[c] = 1;
      queue.push_back(c);
    }
    const auto lies_low = [&](Index c) {
      if (circuit::is_actuator(*structure_.type[c]) || is_source(c)) return false;
      bool all = true;
      for (Index v = structure_.first_volume[c]; v < structure_.first_volume[c + 1]; ++v) {
        all = all && drains(v);
      }
      return all;
    };
    for (Index c = 0; c < count; ++c) {
      if (row[c] < 0 && lies_low(c)) row[c] = 0;
    }
    if (queue.empty() && count > 0) {
      row[0] = 1;
      queue.push_back(0);
    }
    for (std::size_t i = 0; i < queue.size(); ++i) {
      const Index c = queue[i];
      if (circuit::is_actuator(*structure_.type[c])) continue;
      for (Index v = structure_.first_volume[c]; v < structure_.first_volume[c + 1]; ++v) {
        if (net_of_[v] >= layout_.nets || drains(v)) continue;
        for (const Index next : parts_of[net_of_[v]]) {
          if (row[next] >= 0) continue;
          row[next] = row[c] + 1;
          queue.push_back(next);
        }
        parts_of[net_of_[v]].clear();  // all of them have a row
      }
    }
    int highest = 1;
    for (const int r : row) highest = std::max(highest, r);
    for (Index c = 0; c < count; ++c) {
      PlacedPart part;
      part.row = row[c] < 0 ? 0 : row[c];
      if (circuit::is_actuator(*structure_.type[c])) part.row = highest;
      layout_.parts.push_back(part);
    }
  }
  // A volume of a return line: it is joined to the tank by what always passes.
  bool drains(Index volume) const { return joined_to_tank_[structure_.gallery[volume]]; }

  void place_pins() {
    symbols_.clear();
    pin_of_.clear();
    layout_.pins.clear();
    std::vector<std::pair<double, int>> of_net(layout_.nets, {0, 0});  // rows of its parts
    for (Index v = 2; v < structure_.gallery.size(); ++v) {
      if (net_of_[v] >= layout_.nets) continue;
      of_net[net_of_[v]].first += layout_.parts[structure_.volume_component[v]].row;
      ++of_net[net_of_[v]].second;
    }
    for (Index c = 0; c < structure_.type.size(); ++c) {
      const ComponentType& type = *structure_.type[c];
      if (!kept_[c]) {
        symbols_.emplace_back();
        continue;
      }
      std::vector<PortUse> ports;
      for (std::size_t p = 0; p < type.ports.size(); ++p) {
        const Index volume = structure_.first_volume[c] + static_cast<Index>(p);
        const std::size_t net = net_of_[volume];
        PortUse use{type.ports[p], false, net == kAtTank};
        if (net < layout_.nets && of_net[net].second > 1) {
          const int row = layout_.parts[c].row;
          const double others = (of_net[net].first - row) / (of_net[net].second - 1);
          use.upwards = others > row;
        }
        ports.push_back(use);
      }
      symbols_.push_back(symbol_of(type, ports));
      layout_.parts[c].columns = symbols_.back().columns;
      for (std::size_t p = 0; p < type.ports.size(); ++p) {
        const Index volume = structure_.first_volume[c] + static_cast<Index>(p);
        Pin pin;
        pin.part = c;
        pin.top = symbols_.back().pins[p].top;
        pin.column = symbols_.back().pins[p].column;
        pin.net = net_of_[volume] < layout_.nets ? net_of_[volume] : kNoPart;
        pin_of_[volume] = layout_.pins.size();
        layout_.pins.push_back(pin);
      }
    }
  }

  std::string svg() {
    std::vector<std::string> head;
    for (const std::string& caution : overlay_.cautions) {
      for (std::string& line : wrapped(caution, columns_of_text(), std::string::npos))
        head.push_back(std::move(line));
    }
    const std::size_t cautions = head.size();
    if (!overlay_.test.empty()) {
      for (std::string& line : wrapped("Next test: " + overlay_.test_title, columns_of_text(), 3)) {
        head.push_back(std::move(line));
      }
    }
    const bool bare = view_.concerned;
    if (bare) head.clear();
    const double above = bare ? 0 : 30 + kTextLine * 1.3 * static_cast<double>(head.size());
    const double width = bare ? layout_.width : std::max(layout_.width, 420.0);
    const double height = layout_.height + above;
    std::string out = "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"circuit\" viewBox=\"0 0 " +
                      number(width) + " " + number(height) + "\" width=\"" + number(width) +
                      "\" height=\"" + number(height) + "\" role=\"img\">\n<title>" +
                      escape_html(description_.title) + "</title>\n" + drawing_style();
    const auto columns = static_cast<std::size_t>(width / kHeading) - 8;
    for (const std::string& heading : wrapped(bare ? "" : description_.title, columns, 1))
      out += text_at(16, 20, heading, kHeading, "heading");
    for (std::size_t i = 0; i < head.size(); ++i) {
      out += text_at(16, 36 + kTextLine * 1.3 * static_cast<double>(i), head[i], kCharacter,
                     i < cautions ? "caution" : "next");
    }
    out += "<g transform=\"translate(0 " + number(above) + ")\">\n";
    for (Index c = 0; c < structure_.type.size(); ++c) {
      if (kept_[c]) out += shade(c);
    }
    for (const authoring::Segment& one : layout_.segments) {
      out += "<path class=\"line\" data-net=\"" + std::to_string(one.net) + "\" d=\"M" +
             number(one.from.x) + " " + number(one.from.y) + "L" + number(one.to.x) + " " +
             number(one.to.y) + "\"/>\n";
    }
    for (const Point& joint : layout_.joints) {
      out += "<circle class=\"joint\" cx=\"" + number(joint.x) + "\" cy=\"" + number(joint.y) +
             "\" r=\"2\"/>\n";
    }
    out += leak_path();
    for (Index c = 0; c < structure_.type.size(); ++c) {
      check_stop();
      if (kept_[c]) out += part(c);
    }
    out += test_mark();
    return out + "</g>\n</svg>\n";
  }
  std::size_t columns_of_text() const {
    return static_cast<std::size_t>((std::max(layout_.width, 420.0) - 32) / kCharacter);
  }

  std::string shade(Index c) const {
    const auto suspect = overlay_.suspects.find(description_.components[c].id);
    if (suspect == overlay_.suspects.end() || suspect->second < 0.005) return "";
    const PlacedPart& part = layout_.parts[c];
    return "<rect class=\"suspect\" data-part=\"" + description_.components[c].id + "\" x=\"" +
           number(part.x) + "\" y=\"" + number(part.y) + "\" width=\"" + number(part.width) +
           "\" height=\"" + number(part.height) + "\" fill-opacity=\"" +
           reading::format_number(0.12 + 0.6 * suspect->second, 2) + "\"/>\n";
  }

  std::string part(Index c) const {
    const PlacedPart& one = layout_.parts[c];
    std::string out =
        "<g data-part=\"" + description_.components[c].id + "\">\n<title>" +
        escape_html(description_.components[c].id + ": " + structure_.type[c]->title) +
        "</title>\n<rect class=\"part\" x=\"" + number(one.x) + "\" y=\"" + number(one.y) +
        "\" width=\"" + number(one.width) + "\" height=\"" + number(one.height) +
        "\"/>\n<g transform=\"translate(" + number(one.x) + " " + number(one.y) + ")\">\n" +
        symbols_[c].drawing + "</g>\n";
    const ComponentType& type = *structure_.type[c];
    for (std::size_t p = 0; p < type.ports.size(); ++p) {
      const Index volume = structure_.first_volume[c] + static_cast<Index>(p);
      const Pin& pin = layout_.pins[pin_of_.at(volume)];
      const double outwards = pin.top ? -1 : 1;
      if (net_of_[volume] == kAtTank || tank_lines_.count(volume) != 0) {
        out += tank_at(pin);
      } else if (cut_.count(volume) != 0) {
        out += "<path class=\"dashed cut\" d=\"M" + number(pin.x) + " " + number(pin.y) + "v" +
               number(outwards * 16) + "\"/>\n";
      }
      std::string name = type.ports[p];
      if (name.size() > 2) continue;
      for (char& letter : name) {
        letter = letter >= 'a' && letter <= 'z' ? static_cast<char>(letter - 'a' + 'A') : letter;
      }
      out += text_at(pin.x + 3, pin.y + (outwards > 0 ? 10 : -4), name, kSmall, "port");
    }
    const std::vector<std::string> lines = label(c);
    double y =
        one.y + 10 + (authoring::kSymbolHeight - kTextLine * static_cast<double>(lines.size())) / 2;
    y = std::max(y, one.y + 9);
    for (const std::string& line : lines) {
      out += text_at(one.x + one.width + 6, y, line, kCharacter, "label");
      y += kTextLine;
    }
    return out + "</g>\n";
  }

  // The tank's symbol at the point of use: an open vessel, the line ending within it.
  static std::string tank_at(const Pin& pin) {
    const double way = pin.top ? -1 : 1, end = pin.y + way * 18;
    return "<path class=\"tank\" d=\"M" + number(pin.x) + " " + number(pin.y) + "V" + number(end) +
           "M" + number(pin.x - 8) + " " + number(end - way * 5) + "V" + number(end) + "H" +
           number(pin.x + 8) + "V" + number(end - way * 5) + "\"/>\n";
  }

  // The way of the oil where the likeliest group of parts leaks.
  std::string leak_path() const {
    const circuit::Observation* complaint = nullptr;
    for (const circuit::Observation& one : analysis_.observations) {
      if (one.id == overlay_.complaint) complaint = &one;
    }
    if (complaint == nullptr || overlay_.modes.empty()) return "";
    const std::set<std::string> wanted(overlay_.modes.begin(), overlay_.modes.end());
    for (const circuit::ModeSet& set : complaint->sets) {
      std::set<std::string> parts;
      for (const std::uint32_t mode : set.modes) parts.insert(analysis_.modes[mode].component);
      if (parts != wanted) continue;
      const auto way = way_of_set(graph_, *complaint, set.modes);
      if (!way.empty()) return flow_of(way);
    }
    return "";
  }

  std::string flow_of(const std::vector<authoring::WayStep>& way) const {
    std::string out;
    std::vector<std::vector<authoring::Segment>> segments_of(layout_.nets);
    for (const authoring::Segment& one : layout_.segments) segments_of[one.net].push_back(one);
    Index at = kNone;  // the volume where the oil is
    const auto draw_to = [&](Index volume) {
      if (at != kNone && at != volume && pin_of_.count(at) != 0 && pin_of_.count(volume) != 0) {
        const Pin &from = layout_.pins[pin_of_.at(at)], &to = layout_.pins[pin_of_.at(volume)];
        if (from.net == to.net && from.net != kNoPart) {
          out += leak_line(
              authoring::line_between(segments_of[from.net], {from.x, from.y}, {to.x, to.y}));
        }
      }
      at = volume;
    };
    for (const authoring::WayStep& step : way) {
      if (step.element == kNone) {
        // Drawn, a line and what it joins are one net: the oil goes on to where it leaves that.
        const circuit::Line& line = structure_.lines[step.line];
        const bool forward = structure_.gallery[line.ends[0].volume] == step.from;
        if (at == kNone) at = line.ends[forward ? 0 : 1].volume;
        continue;
      }
      const circuit::PlacedElement& one = structure_.elements[step.element];
      const Index in = step.forward ? one.from : one.to, out_at = step.forward ? one.to : one.from;
      if (in > circuit::kOutside) draw_to(in);
      if (kept_[one.component]) out += through(one.component, in, out_at);
      at = kNone;
      if (out_at > circuit::kOutside) at = out_at;
    }
    return out;
  }
  static std::string leak_line(const std::vector<Point>& points) {
    if (points.size() < 2) return "";
    std::string out = "<path class=\"leak\" d=\"";
    for (std::size_t i = 0; i < points.size(); ++i) {
      out += (i == 0 ? "M" : "L") + number(points[i].x) + " " + number(points[i].y);
    }
    out += "\"/>\n";
    // An arrow in the middle of the longest piece.
    std::size_t longest = 0;
    double most = 0;
    for (std::size_t i = 0; i + 1 < points.size(); ++i) {
      const double length =
          std::abs(points[i].x - points[i + 1].x) + std::abs(points[i].y - points[i + 1].y);
      if (length > most) {
        most = length;
        longest = i;
      }
    }
    const Point &a = points[longest], &b = points[longest + 1];
    const double x = (a.x + b.x) / 2, y = (a.y + b.y) / 2;
    const double dx = b.x > a.x ? 1 : b.x < a.x ? -1 : 0, dy = b.y > a.y ? 1 : b.y < a.y ? -1 : 0;
    return out + "<path class=\"oil\" d=\"M" + number(x + 5 * dx) + " " + number(y + 5 * dy) + "L" +
           number(x - 3 * dx + 4 * dy) + " " + number(y - 3 * dy + 4 * dx) + "L" +
           number(x - 3 * dx - 4 * dy) + " " + number(y - 3 * dy - 4 * dx) + "Z\"/>\n";
  }
  // Within a part, from one of its pins to another, or to its middle where it goes to a reservoir:
  // upright and level, as lines are drawn.
  std::string through(Index component, Index in, Index out_at) const {
    const PlacedPart& part = layout_.parts[component];
    const Point middle{part.x + part.width / 2, part.y + part.height / 2};
    const auto place_of = [&](Index end) {
      const auto pin = pin_of_.find(end);
      if (pin == pin_of_.end()) return middle;
      return Point{layout_.pins[pin->second].x, layout_.pins[pin->second].y};
    };
    const Point from = place_of(in), to = place_of(out_at);
    std::string path = "M" + number(from.x) + " " + number(from.y) + "V" + number(middle.y) + "H" +
                       number(to.x) + "V" + number(to.y);
    if (net_of_[out_at] == kAtTank && pin_of_.count(out_at) != 0) path += "v14";
    return "<path class=\"leak\" data-through=\"" + description_.components[component].id +
           "\" d=\"" + path + "\"/>\n";
  }

  // The port that the next test opens.
  std::string test_mark() const {
    if (!overlay_.test.starts_with("static/")) return "";
    std::string port = overlay_.test.substr(7);
    port = port.substr(0, port.find('/'));
    for (const auto& [volume, pin] : pin_of_) {
      if (structure_.volume_name(volume) != port) continue;
      const Pin& at = layout_.pins[pin];
      return "<circle class=\"mark\" data-port=\"" + port + "\" cx=\"" + number(at.x) + "\" cy=\"" +
             number(at.y) + "\" r=\"6\"/>\n";
    }
    return "";
  }

  const circuit::Description& description_;
  const circuit::Analysis& analysis_;
  const Structure structure_;
  const circuit::HydraulicGraph graph_;
  const std::vector<bool> joined_to_tank_;  // by vertex, by what always passes
  const Overlay overlay_;
  const DrawingView view_;
  std::vector<bool> kept_;  // by component: what is drawn
  Layout layout_;
  std::vector<std::size_t> net_of_;  // by volume
  std::set<Index> tank_lines_;       // ports whose line goes to the tank
  std::set<Index> cut_;              // ports that go on to what is not drawn
  std::vector<Symbol> symbols_;      // by component
  std::map<Index, std::size_t> pin_of_;
};

}  // namespace

std::string circuit_drawing(std::string_view circuit) {
  const std::vector<ComponentType> catalogue = shipped_catalogue();
  const CircuitDocument document(circuit);
  const circuit::Description written = read_circuit(document, catalogue);
  const circuit::Analysis analysis =
      document.said_of_author([&] { return circuit::analyse_in_order(written, catalogue); });
  const circuit::Description description = circuit::in_order(written);
  return Drawing(description, analysis, catalogue, Overlay{}, {}).write();
}

std::string case_drawing(const circuit::Description& description, const circuit::Analysis& analysis,
                         Overlay overlay, const DrawingView& view) {
  const std::vector<ComponentType> catalogue = shipped_catalogue();
  return Drawing(description, analysis, catalogue, std::move(overlay), view).write();
}

}  // namespace faultodds::documents
