#include "bindings/priors/drawing.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace faultodds_priors {

std::string number(double value, int digits) {
  char text[40];
  std::snprintf(text, sizeof text, "%.*g", digits, value);
  return text;
}

std::string hours_text(double hours) {
  if (hours < 1000 || !(hours < 1e15)) return number(hours);
  const double unit = std::pow(10, std::floor(std::log10(hours)) - 3);
  char text[40];
  std::snprintf(text, sizeof text, "%.0f", std::round(hours / unit) * unit);
  return text;
}

std::string fixed(double value) {
  char text[40];
  std::snprintf(text, sizeof text, "%.1f", value);
  return text;
}

std::string line(double x1, double y1, double x2, double y2, const char* style) {
  return "<line x1=\"" + fixed(x1) + "\" y1=\"" + fixed(y1) + "\" x2=\"" + fixed(x2) + "\" y2=\"" +
         fixed(y2) + "\" " + style + "/>";
}

std::string dot(double x, double y, double r, const char* colour) {
  return "<circle cx=\"" + fixed(x) + "\" cy=\"" + fixed(y) + "\" r=\"" + fixed(r) + "\" fill=\"" +
         colour + "\"/>";
}

std::string label(double x, double y, const std::string& text, const char* anchor) {
  return "<text x=\"" + fixed(x) + "\" y=\"" + fixed(y) + "\" text-anchor=\"" + anchor + "\">" +
         text + "</text>";
}

std::string curve(const Places& places, const char* style) {
  std::string path = "<path fill=\"none\" " + std::string(style) + " d=\"";
  for (std::size_t i = 0; i < places.size(); ++i) {
    path += (i == 0 ? "M" : "L") + fixed(places[i].first) + " " + fixed(places[i].second);
  }
  return path + "\"/>";
}

std::string area(const Places& lower, const Places& upper) {
  std::string points;
  const auto add = [&points](const std::pair<double, double>& place) {
    points += fixed(place.first) + "," + fixed(place.second) + " ";
  };
  std::for_each(lower.begin(), lower.end(), add);
  std::for_each(upper.rbegin(), upper.rend(), add);
  return "<polygon fill=\"#cfe1f2\" points=\"" + points + "\"/>";
}

std::string svg(double width, double height, const std::string& title, const std::string& body) {
  return "<svg role=\"img\" viewBox=\"0 0 " + fixed(width) + " " + fixed(height) + "\" width=\"" +
         fixed(width) + "\"><title>" + title + "</title>" + body + "</svg>\n";
}

Scale Scale::even(double from, double to, double at_from, double at_to) {
  Scale scale;
  scale.from_ = from;
  scale.to_ = to > from ? to : from + 1;
  scale.at_from_ = at_from;
  scale.at_to_ = at_to;
  return scale;
}

Scale Scale::logarithmic(double from, double to, double at_from, double at_to) {
  Scale scale = even(std::log10(from), std::log10(to), at_from, at_to);
  scale.logarithmic_ = true;
  return scale;
}

double Scale::operator()(double value) const {
  const double at = logarithmic_ ? std::log10(std::max(value, 1e-300)) : value;
  const double share = (std::clamp(at, from_, to_) - from_) / (to_ - from_);
  return at_from_ + share * (at_to_ - at_from_);
}

double Scale::value_at(double place) const {
  const double at = from_ + (place - at_from_) / (at_to_ - at_from_) * (to_ - from_);
  return logarithmic_ ? std::pow(10, at) : at;
}

std::vector<double> Scale::ticks() const {
  std::vector<double> ticks;
  if (logarithmic_) {
    const bool few = to_ - from_ < 2;
    for (double power = std::floor(from_); power <= to_; power += 1) {
      for (const double by : {1.0, 2.0, 5.0}) {
        const double at = std::log10(by) + power;
        if ((few || by == 1) && at >= from_ && at <= to_) ticks.push_back(std::pow(10, at));
      }
    }
    return ticks;
  }
  const double rough = (to_ - from_) / 6;
  const double power = std::pow(10, std::floor(std::log10(rough)));
  const double by = rough > 5 * power ? 10 : rough > 2 * power ? 5 : rough > power ? 2 : 1;
  for (double at = std::ceil(from_ / (by * power)) * by * power; at <= to_ * (1 + 1e-9);
       at += by * power) {
    ticks.push_back(std::abs(at) < 1e-9 * power ? 0 : at);
  }
  return ticks;
}

}  // namespace faultodds_priors
