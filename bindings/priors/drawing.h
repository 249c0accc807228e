// SVG for the report's plots: marks, axes and the numbers on them. It knows no packs and decides
// nothing of what is drawn.
#pragma once

#include <string>
#include <utility>
#include <vector>

namespace faultodds_priors {

using Places = std::vector<std::pair<double, double>>;  // x, y, in the drawing's units

std::string number(double value, int digits = 4);  // significant digits
std::string hours_text(double hours);              // likewise, never with an exponent
std::string fixed(double value);                   // one decimal

inline constexpr const char* kBeforeColour = "#8a8a8a";
inline constexpr const char* kAfterColour = "#0057a8";
inline constexpr const char* kAxisStyle = "stroke=\"#dddddd\"";
inline constexpr const char* kBeforeLine = "stroke=\"#8a8a8a\" stroke-width=\"2\"";
inline constexpr const char* kAfterLine = "stroke=\"#0057a8\" stroke-width=\"2\"";
inline constexpr const char* kDashed =
    "stroke=\"#b34700\" stroke-width=\"1.5\" stroke-dasharray=\"5 4\"";

std::string line(double x1, double y1, double x2, double y2, const char* style);
std::string dot(double x, double y, double r, const char* colour);
std::string label(double x, double y, const std::string& text, const char* anchor = "start");
std::string curve(const Places& places, const char* style);
std::string area(const Places& lower, const Places& upper);  // between two curves
std::string svg(double width, double height, const std::string& title, const std::string& body);

// From a range of values to a range of the drawing, evenly or by logarithms.
class Scale {
 public:
  static Scale even(double from, double to, double at_from, double at_to);
  static Scale logarithmic(double from, double to, double at_from, double at_to);

  double operator()(double value) const;  // held within the range
  double value_at(double place) const;
  std::vector<double> ticks() const;  // round values within it, some six

 private:
  double from_ = 0, to_ = 1, at_from_ = 0, at_to_ = 1;
  bool logarithmic_ = false;
};

}  // namespace faultodds_priors
