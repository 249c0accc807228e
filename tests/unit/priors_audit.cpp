// Which orders moved which mode, on hand-made orders.
#include <catch2/catch.hpp>
#include <string>
#include <vector>

#include "priors/audit.h"

using namespace faultodds::priors;

namespace {

const Vocabulary vocabulary{{{"valve", {{"leaks", "INL"}, {"sticks", "FTO"}}}}};

void add(Audit& audit, const std::string& id, int day, const std::vector<std::uint32_t>& modes,
         std::optional<int> grade = {}, const std::string& asset_class = "") {
  WorkOrder order;
  order.id = id;
  order.asset_class = asset_class;
  order.modes = modes;
  order.grade = grade;
  order.closed = Date{day};
  audit.add(order);
}

std::vector<std::string> named(const AuditedMode& mode) {
  std::vector<std::string> names;
  for (const AuditedOrder& order : mode.orders) names.push_back(order.work_order);
  return names;
}

}  // namespace

TEST_CASE("the latest orders are named, whatever order they come in, and the others counted") {
  for (const bool forwards : {true, false}) {
    Audit audit(vocabulary, 2, true, true);
    for (int i = 0; i < 5; ++i) {
      const int day = forwards ? i : 4 - i;
      add(audit, "W" + std::to_string(day), day, {0}, 2);
    }
    const AuditedMode& leaks = audit.modes().at({"valve", "leaks", ""});
    CHECK(leaks.found == 5);
    CHECK(named(leaks) == std::vector<std::string>{"W4", "W3"});
    CHECK(leaks.left_out() == 3);
    CHECK(audit.modes().at({"valve", "sticks", ""}).sound == 5);
  }
}

TEST_CASE("what an order says of a mode is told, and one of several apart from it alone") {
  Audit audit(vocabulary, 9, true, true);
  add(audit, "a", 1, {0}, 2);
  add(audit, "b", 2, {0}, 1);
  add(audit, "c", 3, {0});
  add(audit, "d", 4, {0, 1}, 2);
  add(audit, "e", 5, {});
  const AuditedMode& leaks = audit.modes().at({"valve", "leaks", ""});
  CHECK((leaks.found == 3 && leaks.one_of_several == 1 && leaks.sound == 1));
  std::vector<Said> said;
  for (const AuditedOrder& order : leaks.orders) said.push_back(order.said);
  CHECK(said == std::vector<Said>{Said::one_of_several, Said::not_sound, Said::worn, Said::failed});
}

TEST_CASE("where the other modes were not looked at, an order says nothing of them") {
  Audit audit(vocabulary, 9, false, true);
  add(audit, "a", 1, {0}, 2);
  CHECK(audit.modes().count({"valve", "sticks", ""}) == 0);
  add(audit, "b", 1, {});
  CHECK(audit.modes().at({"valve", "sticks", ""}).sound == 1);
}

TEST_CASE("two rows of one order that say the same are two, and asset classes are apart if asked") {
  for (const bool by_class : {true, false}) {
    Audit audit(vocabulary, 9, true, by_class);
    add(audit, "a", 1, {0}, 2, "loader");
    add(audit, "a", 1, {0}, 2, "loader");
    add(audit, "b", 1, {0}, 2, "lift");
    const AuditedMode& leaks = audit.modes().at({"valve", "leaks", by_class ? "loader" : ""});
    CHECK(leaks.found == (by_class ? 2 : 3));
    CHECK(leaks.left_out() == 0);
  }
}
