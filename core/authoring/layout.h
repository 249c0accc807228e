// Where the parts of a circuit drawing stand and how its lines run: parts in rows from the supply
// to the actuators, ordered by barycentres (K. Sugiyama, S. Tagawa, M. Toda, Methods for Visual
// Understanding of Hierarchical System Structures, IEEE Trans. SMC 11(2), 1981), lines in the
// channels between rows, each on a track by the left-edge algorithm (A. Hashimoto, J. Stevens, Wire
// Routing by Optimizing Channel Assignment within Large Apertures, DAC 1971; both from memory). It
// draws nothing and knows no symbols but their sizes.
//
// No two lines lie on each other and no line meets a part or its text: pins of neighbouring rows
// stand on different columns, and a line that passes a row has a column of its own there.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace faultodds::authoring {

inline constexpr std::size_t kNoPart = ~std::size_t{0};
inline constexpr int kNoRow = -1;  // of a part that is not drawn

struct Pin {
  std::size_t part = kNoPart;
  bool top = false;           // on the upper edge of its part, else the lower
  int column = 0;             // counted in pin distances from the left edge of its part
  std::size_t net = kNoPart;  // kNoPart: not joined, or drawn at its point of use
  double x = 0, y = 0;        // set by lay_out
};

struct PlacedPart {
  int row = 0;             // from below
  int columns = 2;         // width of the symbol in pin distances
  double label_width = 0;  // of the text beside it
  double x = 0, y = 0;     // upper left corner of the symbol; set by lay_out
  double width = 0, height = 0;
};

struct Point {
  double x = 0, y = 0;
  bool operator==(const Point&) const = default;
};

struct Segment {
  std::size_t net = 0;
  Point from, to;
};

struct Layout {
  std::vector<PlacedPart> parts;
  std::vector<Pin> pins;
  std::size_t nets = 0;
  // Set by lay_out.
  std::vector<Segment> segments;
  std::vector<Point> joints;  // where three or more segments of a net meet
  double width = 0, height = 0;
  std::vector<double> row_widths;  // from below
};

inline constexpr double kPinDistance = 24;
inline constexpr double kSymbolHeight = 56;
inline constexpr double kTrackDistance = 9;
inline constexpr double kStub = 26;  // between a part and the first track: port names, tank symbols

// Places where a net passes a row, together: for each, a column is kept free and ordered.
inline constexpr std::size_t kMostPassages = 200'000;

// Orders the rows and sets every place. May be called again with other rows and pins. Throws
// Error(limit_exceeded) where nets pass rows more often than that.
void lay_out(Layout* layout);

// The points of a net's line, of whose segments it is made, from one pin to another; empty where
// none leads there.
std::vector<Point> line_between(const std::vector<Segment>& of_net, Point from, Point to);

}  // namespace faultodds::authoring
