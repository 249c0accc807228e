// What orders and exposure say of each machine, on hand-made rows.
#include <catch2/catch.hpp>
#include <string>
#include <vector>

#include "priors/machine_histories.h"

using namespace faultodds::priors;

namespace {

void order(MachineHistories& histories, const std::string& id, const std::string& asset, int day,
           bool fault = true) {
  const std::vector<std::uint32_t> modes(fault ? 1 : 0, 0);
  WorkOrder row;
  row.id = id;
  row.asset = asset;
  row.asset_class = "loader";
  row.modes = modes;
  row.closed = Date{day};
  histories.add(row);
}

void watched(MachineHistories& histories, const std::string& asset, int from, int to) {
  Exposure row;
  row.asset = asset;
  row.asset_class = "loader";
  row.from = Date{from};
  row.to = Date{to};
  histories.add(row);
}

}  // namespace

TEST_CASE("a machine's faults lie half a day into their days, counted from the first under watch") {
  MachineHistories histories;
  watched(histories, "A", 100, 199);
  watched(histories, "A", 150, 249);  // another part of it
  order(histories, "1", "A", 100);
  order(histories, "2", "A", 249);
  const auto classes = histories.classes();
  REQUIRE(classes.size() == 1);
  CHECK(classes[0].asset_class == "loader");
  CHECK(classes[0].machines == std::vector<Watched>{{0, 150, {0.5, 149.5}}});
  CHECK(histories.any_days());
}

TEST_CASE("an order of several rows is one fault, and two orders of one day are two") {
  MachineHistories histories;
  watched(histories, "A", 0, 9);
  order(histories, "1", "A", 4);
  order(histories, "1", "A", 4);
  order(histories, "2", "A", 4);
  order(histories, "3", "A", 5, false);
  CHECK(histories.classes()[0].machines[0].events == std::vector<double>{4.5, 4.5});
}

TEST_CASE("a machine that never failed is under watch, and one outside its days is not") {
  MachineHistories histories;
  watched(histories, "A", 0, 9);
  watched(histories, "B", 0, 9);
  order(histories, "1", "A", 12);
  const auto classes = histories.classes();
  CHECK(classes[0].machines.size() == 2);
  CHECK(classes[0].outside == 1);
  CHECK((classes[0].machines[0].events.empty() && classes[0].machines[1].events.empty()));
}

TEST_CASE("without days of its own a machine is taken as watched as long as the orders go") {
  MachineHistories histories;
  order(histories, "1", "A", 10);
  order(histories, "2", "B", 19, false);
  order(histories, "3", "", 15);
  const auto classes = histories.classes();
  CHECK(classes[0].machines == std::vector<Watched>{{0, 10, {0.5}}, {0, 10, {}}});
  CHECK(classes[0].without_days == 2);
  CHECK(histories.without_asset() == 1);
  CHECK_FALSE(histories.any_days());
}
