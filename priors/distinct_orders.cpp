#include "priors/distinct_orders.h"

#include <algorithm>
#include <map>
#include <utility>

#include "priors/csv.h"

namespace faultodds::priors {

void DistinctOrders::add(const WorkOrder& order) {
  const auto [at, added] = orders_.try_emplace(std::string(order.id));
  Order& of = at->second;
  if (added) {
    of.closed = to_string(order.closed);
    of.site = csv_field(order.site.empty() ? order.asset_class : order.site);
    of.complaint = csv_field(order.complaint);
    of.tests = csv_field(order.tests);
  }
  const Vocabulary::Type& type = vocabulary_->types[order.type];
  std::string finding;
  for (const std::uint32_t m : order.modes) {
    finding += (finding.empty() ? "" : "+") + type.modes[m].name;
  }
  if (finding.empty()) finding = "none";
  static const char* const grades[] = {"", "worn", "failed"};
  std::string row = csv_field(type.name) + ',' + csv_field(order.position) + ',';
  row += csv_field(finding) + ',' + grades[static_cast<std::size_t>(order.grade.value_or(0))] + ',';
  if (order.confirmed) row += *order.confirmed ? "yes" : "no";
  of.rows.push_back(std::move(row));
}

std::string DistinctOrders::table(const std::vector<Job>& jobs) const {
  std::map<std::vector<std::string>, std::uint64_t> alike;
  for (const Job& job : jobs) {
    const auto at = orders_.find(job.id);
    if (at == orders_.end()) continue;
    const Order& order = at->second;
    std::vector<std::string> rows = order.rows;
    std::sort(rows.begin(), rows.end());
    for (std::string& row : rows) {
      row = order.closed + ',' + order.site + ',' + row + ',' + order.complaint + ',' + order.tests;
    }
    alike[std::move(rows)] += job.orders;
  }
  std::string text =
      "work_order,line,closed,site,component,position,finding,grade,confirmed,complaint,tests,"
      "orders\r\n";
  std::size_t number = 0;
  for (const auto& [rows, orders] : alike) {
    ++number;
    for (std::size_t i = 0; i < rows.size(); ++i) {
      text += std::to_string(number) + ',' + std::to_string(i + 1) + ',' + rows[i] + ',' +
              std::to_string(orders) + "\r\n";
    }
  }
  return text;
}

}  // namespace faultodds::priors
