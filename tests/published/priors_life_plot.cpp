// Weibull plots against published data and general-purpose libraries, whose values
// priors_reference.py prints again.
#include <catch2/catch.hpp>
#include <limits>
#include <utility>
#include <vector>

#include "priors/life_plot.h"

using namespace faultodds::priors;

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

// NIST/SEMATECH e-Handbook 8.4.1.3: ten failures, ten units still running at 500 h.
std::vector<Life> nist() {
  std::vector<Life> lives;
  for (double hours : {54, 187, 216, 240, 244, 335, 361, 373, 375, 386}) {
    lives.push_back(Life::failed_at(hours));
  }
  lives.push_back(Life::sound_at(500, 10));
  return lives;
}

// D. M. Finkelstein and R. A. Wolfe 1985: months to breast retraction, 46 patients treated by
// radiotherapy alone, seen between visits.
std::vector<Life> retraction() {
  const std::pair<double, double> seen[] = {
      {45, infinity}, {6, 10},        {0, 7},         {46, infinity}, {46, infinity},
      {7, 16},        {17, infinity}, {7, 14},        {37, 44},       {0, 8},
      {4, 11},        {15, infinity}, {11, 15},       {22, infinity}, {46, infinity},
      {46, infinity}, {25, 37},       {46, infinity}, {26, 40},       {46, infinity},
      {27, 34},       {36, 44},       {46, infinity}, {36, 48},       {37, infinity},
      {40, infinity}, {17, 25},       {46, infinity}, {11, 18},       {38, infinity},
      {5, 12},        {37, infinity}, {0, 5},         {18, infinity}, {24, infinity},
      {36, infinity}, {5, 11},        {19, 35},       {17, 25},       {24, infinity},
      {32, infinity}, {33, infinity}, {19, 26},       {37, infinity}, {34, infinity},
      {36, infinity}};
  std::vector<Life> lives;
  for (const auto& [lower, upper] : seen) lives.push_back({lower, upper, 1, 0});
  return lives;
}

Approx nine_digits(double value) { return Approx(value).epsilon(1e-9).margin(0); }

}  // namespace

TEST_CASE("NIST/SEMATECH 8.4.1.3: median ranks are reliability's 0.9.0") {
  const LifePlot plot = life_plot(nist());
  CHECK(plot.ranks == Ranks::median);
  REQUIRE(plot.points.size() == 10);
  const double ranks[] = {0.0343137254902, 0.08333333333333, 0.1323529411765, 0.1813725490196,
                          0.2303921568627, 0.2794117647059,  0.328431372549,  0.3774509803922,
                          0.4264705882353, 0.4754901960784};
  for (std::size_t i = 0; i < 10; ++i) CHECK(plot.points[i].probability == nine_digits(ranks[i]));
}

TEST_CASE("lives still sound among the failures move the ranks as in reliability 0.9.0") {
  std::vector<Life> lives;
  for (double hours : {300, 400, 450, 600}) lives.push_back(Life::failed_at(hours));
  for (double hours : {100, 350, 420, 500}) lives.push_back(Life::sound_at(hours));
  const LifePlot plot = life_plot(lives);
  REQUIRE(plot.points.size() == 4);
  const double ranks[] = {0.09821428571429, 0.2544642857143, 0.4497767857143, 0.7427455357143};
  for (std::size_t i = 0; i < 4; ++i) CHECK(plot.points[i].probability == nine_digits(ranks[i]));
}

TEST_CASE("failures at one age are plotted once, half way between the first and the last of them") {
  std::vector<Life> lives = {Life::failed_at(100, 3), Life::sound_at(200)};
  const LifePlot plot = life_plot(lives);
  REQUIRE(plot.points.size() == 1);
  CHECK(plot.points[0].failed == 3);
  CHECK(plot.points[0].probability == Approx((2 - 0.3) / 4.4));
  CHECK(plot.points[0].last == Approx((3 - 0.3) / 4.4));
}

TEST_CASE("lives that came under watch late are plotted half way up Kaplan and Meier's steps") {
  std::vector<Life> lives = nist();
  lives[1].entry = 100;
  const LifePlot plot = life_plot(lives);
  CHECK(plot.ranks == Ranks::kaplan_meier);
  REQUIRE(plot.points.size() == 10);
  CHECK(plot.points[0].probability == Approx(0.5 / 19));
  CHECK(plot.points[0].last == Approx(1.0 / 19));
}

TEST_CASE(
    "NIST/SEMATECH 8.4.1.3: the band around the line is reliability's 0.9.0, to four digits") {
  // Its covariance comes from differences.
  const WeibullFit fit = fit_weibull(nist());
  struct Band {
    double hours, lower, upper;
  };
  for (const Band& band :
       {Band{100, 0.01180370709985, 0.1565674335897}, Band{400, 0.2506876659974, 0.5626334245484},
        Band{1000, 0.6348290673929, 0.9961050800254}}) {
    const Interval here = weibull_band(fit, band.hours);
    CHECK(here.lower == Approx(band.lower).epsilon(2e-4));
    CHECK(here.upper == Approx(band.upper).epsilon(2e-4));
  }
}

TEST_CASE("NIST/SEMATECH 8.4.1.3: Anderson and Darling's statistic is reliability's 0.9.0") {
  const auto fit = goodness_of_fit(nist(), fit_weibull(nist()));
  REQUIRE(fit);
  CHECK(fit->anderson_darling == Approx(70.74741713921).epsilon(1e-6));  // its fit's last digits
  REQUIRE(fit->p);
  CHECK(*fit->p > 0.1);  // lives that are Weibull's, as the handbook plots them
}

TEST_CASE("lives of two kinds in one are told from a Weibull line") {
  std::vector<Life> lives;
  for (int i = 1; i <= 30; ++i) lives.push_back(Life::failed_at(10 + 0.1 * i));
  for (int i = 1; i <= 30; ++i) lives.push_back(Life::failed_at(1000 + 10 * i));
  const auto fit = goodness_of_fit(lives, fit_weibull(lives));
  REQUIRE(fit);
  REQUIRE(fit->p);
  CHECK(*fit->p < 0.05);
}

TEST_CASE("Finkelstein and Wolfe: where lives between visits end is as published, and surpyval's") {
  // The likeliest distribution, as printed for these data (R package Icens, from memory).
  struct Printed {
    double lower, upper, probability;
  };
  const Printed printed[] = {{4, 5, 0.0463},   {6, 7, 0.0334},   {7, 8, 0.0887},
                             {11, 12, 0.0708}, {24, 25, 0.0926}, {33, 34, 0.0818},
                             {38, 40, 0.1209}, {46, 48, 0.4656}};
  std::vector<Mass> masses;
  for (const Mass& mass : turnbull(retraction())) {
    if (mass.probability > 1e-4) masses.push_back(mass);
  }
  REQUIRE(masses.size() == 8);
  for (std::size_t i = 0; i < 8; ++i) {
    CHECK(masses[i].lower == printed[i].lower);
    CHECK(masses[i].upper == printed[i].upper);
    CHECK(masses[i].probability == Approx(printed[i].probability).margin(6e-5).epsilon(0));
  }
  CHECK(life_plot(retraction()).ranks == Ranks::turnbull);
}

TEST_CASE("where lives end is Kaplan and Meier's curve where every age is known, late entry too") {
  std::vector<Life> lives = nist();
  lives[1].entry = 100;
  lives[2].entry = 150;
  double survival = 1;
  const std::vector<Mass> masses = turnbull(lives);
  const std::vector<SurvivalPoint> points = kaplan_meier(lives);
  REQUIRE(masses.size() == points.size());
  for (std::size_t i = 0; i + 1 < masses.size(); ++i) {
    CHECK(masses[i].lower == masses[i].upper);
    CHECK(masses[i].probability == Approx(survival - points[i].survival).epsilon(1e-5));
    survival = points[i].survival;
  }
}
