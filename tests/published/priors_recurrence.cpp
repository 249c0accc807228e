// Mean cumulative functions and tests of trend against published data and general-purpose
// libraries, whose values priors_reference.py prints again.
#include <algorithm>
#include <catch2/catch.hpp>

#include "priors/recurrence.h"

namespace priors_recurrence {

using namespace faultodds::priors;

namespace {

// L. H. Crow 1974 (also MIL-HDBK-189C): three systems under test for 200 h each.
std::vector<Watched> crow() {
  return {{0, 200, {4.3, 4.4, 10.2, 23.5, 23.8, 26.4, 74.0, 77.1, 92.1, 197.2}},
          {0,
           200,
           {0.1, 5.6, 18.6, 19.5, 24.2, 26.7, 45.1, 45.8, 75.7, 79.7, 98.6, 120.1, 161.8, 180.6,
            190.8}},
          {0, 200, {8.4, 32.5, 44.7, 48.4, 50.6, 73.6, 98.7, 112.2, 129.8, 136.0, 195.8}}};
}

// NIST/SEMATECH e-Handbook 8.2.3.4: one system, watch ended at 1,500 h.
std::vector<Watched> growth() {
  return {{0, 1500, {5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478}}};
}

// W. Nelson and N. Doganaksoy 1989 (Nelson 2003, table 3.1): 48 replacements of valve seats on 41
// diesel engines, in days; the last of each is the end of its watch.
std::vector<Watched> valve_seats() {
  const std::vector<std::vector<double>> engines = {{761},
                                                    {759},
                                                    {98, 667},
                                                    {326, 653, 653, 667},
                                                    {665},
                                                    {84, 667},
                                                    {87, 663},
                                                    {646, 653},
                                                    {92, 653},
                                                    {651},
                                                    {258, 328, 377, 621, 650},
                                                    {61, 539, 648},
                                                    {254, 276, 298, 640, 644},
                                                    {76, 538, 642},
                                                    {635, 641},
                                                    {349, 404, 561, 649},
                                                    {631},
                                                    {596},
                                                    {120, 479, 614},
                                                    {323, 449, 582},
                                                    {139, 139, 589},
                                                    {593},
                                                    {573, 589},
                                                    {165, 408, 604, 606},
                                                    {249, 594},
                                                    {344, 497, 613},
                                                    {265, 586, 595},
                                                    {166, 206, 348, 389},
                                                    {601},
                                                    {410, 581, 601},
                                                    {611},
                                                    {608},
                                                    {587},
                                                    {367, 603},
                                                    {202, 563, 570, 585},
                                                    {587},
                                                    {578},
                                                    {578},
                                                    {586},
                                                    {585},
                                                    {582}};
  std::vector<Watched> machines;
  for (std::vector<double> events : engines) {
    const double end = events.back();
    events.pop_back();
    machines.push_back({0, end, events});
  }
  return machines;
}

Approx nine_digits(double value) { return Approx(value).epsilon(1e-9).margin(0); }

}  // namespace

TEST_CASE("valve seats: the mean cumulative function is that of reliability and surpyval") {
  const auto points = mean_cumulative(valve_seats());
  REQUIRE(points.size() == 46);  // two replacements on one day twice
  CHECK(points[0].at == 61);
  CHECK(points[0].at_risk == 41);
  CHECK(points[0].mean == nine_digits(1.0 / 41));
  CHECK(points.back().at == 653);
  CHECK(points.back().mean == nine_digits(1.542687513557));  // reliability 0.9.0, surpyval 0.25
}

TEST_CASE("valve seats: the variance of the mean is surpyval's, and so is the interval") {
  const auto points = mean_cumulative(valve_seats());
  CHECK(points[0].variance == nine_digits(0.0005803746318248));
  CHECK(points[1].variance == nine_digits(0.001131730532058));
  CHECK(points.back().variance == nine_digits(0.09712950892893));
  const auto at_404 = std::find_if(points.begin(), points.end(),
                                   [](const MeanCumulativePoint& p) { return p.at == 404; });
  REQUIRE(at_404 != points.end());
  CHECK(at_404->interval.lower == nine_digits(0.4928271120259));
  CHECK(at_404->interval.upper == nine_digits(0.9480449677637));
}

TEST_CASE("Crow 1974: the shape printed, 0.615, and Cramer and von Mises', 0.069") {
  const Trend trend = trend_of(crow());
  CHECK(trend.events == 36);
  CHECK(trend.shape == Approx(0.615).margin(5e-4).epsilon(0));
  CHECK(trend.shape == nine_digits(0.6153362526936));  // surpyval 0.25, CrowAMSAA
  CHECK(trend.cramer_von_mises == Approx(0.069).margin(1e-3).epsilon(0));
  CHECK(trend.cramer_von_mises == nine_digits(0.06953089057877));
  CHECK(trend.shape_interval.lower == nine_digits(0.4569071059152));
  CHECK(trend.shape_interval.upper == nine_digits(0.7931707405071));
}

TEST_CASE("trend: Laplace's and the Military Handbook's test agree with SciPy and surpyval") {
  struct Peer {
    const char* data;
    std::vector<Watched> machines;
    double laplace, laplace_p, handbook, handbook_p;
  };
  for (const Peer& peer :
       {Peer{"Crow", crow(), -3.012036354362, 0.00259501517468, 117.0091956793, 0.001269250887793},
        Peer{"NIST", growth(), -1.326949182649, 0.1845254933675, 37.22808148348, 0.02197271423159},
        Peer{"valve seats", valve_seats(), 2.378692775207, 0.01737414966817, 66.14835372786,
             0.01730480108768}}) {
    CAPTURE(peer.data);
    const Trend trend = trend_of(peer.machines);
    CHECK(trend.laplace == nine_digits(peer.laplace));
    CHECK(trend.laplace_p == nine_digits(peer.laplace_p));
    CHECK(trend.handbook == nine_digits(peer.handbook));
    CHECK(trend.handbook_p == nine_digits(peer.handbook_p));
  }
}

TEST_CASE("NIST/SEMATECH 8.2.3.4: the Military Handbook's statistic as printed, 37.23") {
  CHECK(trend_of(growth()).handbook == Approx(37.23).margin(5e-3).epsilon(0));
}

TEST_CASE("the power law's fit: one in ten lies above the critical value of MIL-HDBK-189C") {
  // Its table for ten failures: 0.167 at 10 %.
  std::vector<Watched> machines = growth();
  const Trend fits = trend_of(machines);
  CHECK(fits.fit_p > 0.5);  // 0.054 of 0.167
  // Everything at once, half way through, is no power law.
  machines[0].events = {700, 701, 702, 703, 704, 705, 706, 707, 708, 709};
  const Trend bunched = trend_of(machines);
  CHECK(bunched.cramer_von_mises > 0.167);
  CHECK(bunched.fit_p < 0.1);
}

}  // namespace priors_recurrence
