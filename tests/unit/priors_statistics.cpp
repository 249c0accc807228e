#include <catch2/catch.hpp>

#include "priors/statistics.h"

namespace priors_statistics {

using namespace faultodds::priors;

namespace {

const Vocabulary& vocabulary() {
  static const Vocabulary v{{{"valve", {{"bore_wear", "INL"}, {"seal_leak", "ELU"}}}}};
  return v;
}

struct Order {
  std::vector<std::uint32_t> modes;
  std::optional<int> grade;
  std::optional<double> hours, sound_at;
  std::string asset_class;
};

void add(Tally& tally, const Order& given, int day = 0) {
  WorkOrder order;
  order.modes = given.modes;
  order.grade = given.grade;
  order.hours = given.hours;
  order.sound_at = given.sound_at;
  order.asset_class = given.asset_class;
  order.closed = Date{day};
  tally.add(order);
}

const ModeStatistics& mode(const Tally& tally, const char* name, const char* asset_class = "") {
  return tally.statistics().types.at({"valve", asset_class}).modes.at(name);
}

}  // namespace

TEST_CASE("a component opened for one finding was found sound in its other modes") {
  Tally tally(vocabulary());
  add(tally, {{0}, 2, 3000, {}, ""});
  CHECK(mode(tally, "bore_wear").failed == 1);
  CHECK(mode(tally, "seal_leak").sound == 1);
  Tally strict(vocabulary(), false);
  add(strict, {{0}, 2, 3000, {}, ""});
  CHECK(mode(strict, "seal_leak").sound == 0);
}

TEST_CASE("a component found sound counts as sound in every mode") {
  Tally tally(vocabulary());
  add(tally, {{}, {}, 500, {}, ""});
  CHECK(mode(tally, "bore_wear").sound == 1);
  CHECK(mode(tally, "seal_leak").sound_at.total() == 1);
}

TEST_CASE("an ambiguous order is kept as candidates and blames none of them") {
  Tally tally(vocabulary());
  add(tally, {{0, 1}, 1, 500, {}, ""});
  const TypeStatistics& valve = tally.statistics().types.at({"valve", ""});
  CHECK(valve.ambiguous.at({{"bore_wear", "seal_leak"}}).worn == 1);
  CHECK(valve.modes.at("bore_wear").worn == 0);
  CHECK(valve.modes.at("bore_wear").sound == 0);
  CHECK(valve.orders == 1);
}

TEST_CASE("what is known of a life depends on the finding") {
  Tally tally(vocabulary());
  add(tally, {{0}, 2, 3000, {}, ""});    // failed: noticed then
  add(tally, {{0}, 1, 2000, {}, ""});    // worn: became so before
  add(tally, {{0}, 1, 2000, 1500, ""});  // sound when last inspected
  add(tally, {{1}, 2, 4000, {}, ""});    // the other mode: still sound
  const std::vector<Life> lives = mode(tally, "bore_wear").lives();
  CHECK(lives == std::vector<Life>{Life::failed_at(3000), Life::sound_at(4000),
                                   Life::failed_before(2000), Life::failed_between(1500, 2000)});
}

TEST_CASE("hours are kept to three significant digits") {
  CHECK(rounded_hours(1234.6, 3) == 1230);
  CHECK(rounded_hours(1235.1, 3) == 1240);
  CHECK(rounded_hours(9996, 3) == 10000);
  CHECK(rounded_hours(0.1234, 3) == 0.123);
  CHECK(rounded_hours(77, 2) == 77);
  CHECK(rounded_hours(1e-9, 3) == 0.01);
  CHECK(rounded_hours(5e12, 3) == 9.99e8);
  for (double hours = 0.011; hours < 1e9; hours *= 1.37) {
    CHECK(rounded_hours(hours, 3) == Approx(hours).epsilon(0.0051));
    CHECK(rounded_hours(rounded_hours(hours, 3), 3) == rounded_hours(hours, 3));
  }
}

TEST_CASE("adding the statistics of two depots is tallying their records together") {
  const std::vector<Order> north{{{0}, 2, 3123, {}, "a"}, {{0, 1}, {}, 10, {}, "a"}};
  const std::vector<Order> south{
      {{1}, 1, 999.7, 200, "a"}, {{}, {}, 44, {}, "b"}, {{0, 1}, 1, 10, {}, "a"}};
  Tally first(vocabulary()), second(vocabulary()), together(vocabulary());
  int day = 0;
  for (const Order& order : north) {
    add(first, order, ++day);
    add(together, order, day);
  }
  for (const Order& order : south) {
    add(second, order, ++day);
    add(together, order, day);
  }
  Exposure exposure;
  exposure.asset_class = "a";
  exposure.in_service = 40;
  exposure.centihours = 1234567;
  exposure.age = 800.4;
  second.add(exposure);
  together.add(exposure);
  Statistics merged = first.statistics();
  merged.add(second.statistics());
  CHECK(merged == together.statistics());
  Statistics other_way = second.statistics();
  other_way.add(first.statistics());
  CHECK(other_way == merged);
  CHECK(merged.types.at({"valve", "a"}).first == Date{1});
  CHECK(merged.types.at({"valve", "a"}).last == Date{5});
}

}  // namespace priors_statistics
