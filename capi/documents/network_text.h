// What the readers of network formats share: how much they accept, and names and numbers as such
// text has them. It knows no format (bif_reader.h, xmlbif_reader.h).
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "core/quoted_text.h"
#include "core/error.h"
#include "core/network/network.h"

namespace faultodds::documents {

struct NetworkLimits {
  std::size_t bytes = std::size_t{64} << 20;     // of the text
  std::size_t variables = 100'000;               // of the network
  std::size_t numbers = std::size_t{128} << 20;  // of all its tables together
  std::size_t parents = 64;                      // of one variable: of one state each, or few
};

// A number of a table: 0 to 1, with room for sums that were rounded. What is too small for a double
// is 0.
std::optional<double> probability_of(std::string_view text);

// Throws Error(code, "line 12: <what>").
[[noreturn]] void refuse_line(std::size_t line, const std::string& what,
                              Code code = Code::invalid_document);
// Runs `body`; what it refuses gets the line. Where the call was ended is of no interest.
template <typename Body>
auto at_line(std::size_t line, Body body) {
  try {
    return body();
  } catch (const Error& error) {
    if (error.code() == Code::cancelled) throw;
    refuse_line(line, error.what(), error.code());
  }
}

// A network under construction: names are unique, each variable gets one table, and the limits
// hold. Every function throws Error without the place, which the reader adds.
class NetworkDraft {
 public:
  explicit NetworkDraft(const NetworkLimits& limits) : limits_(limits) {}

  network::Var add(const std::string& name, std::vector<std::string> states);
  // Throws when there is none.
  network::Var variable(const std::string& name) const;
  std::size_t state(network::Var v, const std::string& name) const;
  const network::Network& network() const { return network_; }

  // Rows of the table P(child | parents), after a check that there may be one and that it is not
  // too large; the columns are the child's states.
  std::size_t rows_of(network::Var child, const std::vector<network::Var>& parents);
  void set_table(network::Var child, const std::vector<network::Var>& parents,
                 std::vector<double> table);

  // Throws when there are no variables or one has no table.
  network::Network finish();

 private:
  NetworkLimits limits_;
  network::Network network_;
  std::unordered_map<std::string, network::Var> variables_;
  // Of the variables that a row was given by: their states by name.
  mutable std::unordered_map<network::Var, std::unordered_map<std::string_view, std::size_t>>
      states_;
  std::size_t numbers_ = 0;
};

}  // namespace faultodds::documents
