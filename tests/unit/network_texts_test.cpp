// Both readers of networks on texts that nobody wrote by hand: random networks come back as they
// were, and texts with random damage are read or refused, each refusal with its line.
#include <catch2/catch.hpp>
#include <charconv>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "capi/documents/bif_reader.h"
#include "capi/documents/xmlbif_reader.h"
#include "core/error.h"

namespace network_texts_test {

using faultodds::Code;
using faultodds::Error;
using faultodds::documents::NetworkLimits;
using faultodds::documents::read_bif;
using faultodds::documents::read_xmlbif;
using faultodds::network::Network;
using faultodds::network::next_combination;
using faultodds::network::Var;

namespace {

// Parents may have larger indices than their children.
Network random_network(std::mt19937& random) {
  Network net;
  const Var n = 1 + static_cast<Var>(random() % 6);
  for (Var v = 0; v < n; ++v) {
    std::vector<std::string> states;
    for (std::size_t s = 0; s < 1 + random() % 4; ++s) states.push_back("s" + std::to_string(s));
    const std::size_t count = states.size();
    net.add("v" + std::to_string(v), count, std::move(states));
  }
  std::vector<Var> order(n);
  for (Var v = 0; v < n; ++v) order[v] = v;
  std::shuffle(order.begin(), order.end(), random);
  for (Var i = 0; i < n; ++i) {
    std::vector<Var> parents;
    std::size_t rows = 1;
    for (Var j = 0; j < i && parents.size() < 3; ++j) {
      if (random() % 2 == 0) continue;
      parents.push_back(order[j]);
      rows *= net.states(order[j]);
    }
    std::vector<double> table;
    for (std::size_t r = 0; r < rows; ++r) {
      // Sixty-fourths that sum to 1 exactly, so that nothing is rescaled.
      std::size_t left = 64;
      for (std::size_t s = 0; s + 1 < net.states(order[i]); ++s) {
        const std::size_t part = random() % (left + 1);
        table.push_back(static_cast<double>(part) / 64);
        left -= part;
      }
      table.push_back(static_cast<double>(left) / 64);
    }
    net.set_table(order[i], parents, std::move(table));
  }
  return net;
}

std::string number(double value) {
  char text[32];
  return {text, std::to_chars(text, text + sizeof text, value).ptr};
}

std::string numbers(const double* first, std::size_t count, const char* between) {
  std::string text;
  for (std::size_t i = 0; i < count; ++i) text += (i > 0 ? between : "") + number(first[i]);
  return text;
}

std::string as_bif(const Network& net) {
  std::string text = "network n {\n}\n";
  for (Var v = 0; v < net.size(); ++v) {
    text += "variable " + net.name(v) + " {\n  type discrete [ " + std::to_string(net.states(v)) +
            " ] { ";
    for (std::size_t s = 0; s < net.states(v); ++s) {
      text += (s > 0 ? ", " : "") + net.state_names(v)[s];
    }
    text += " };\n}\n";
  }
  for (Var v = 0; v < net.size(); ++v) {
    const auto& table = net.table(v);
    const std::vector<Var> parents(table.scope.begin(), table.scope.end() - 1);
    text += "probability ( " + net.name(v);
    std::vector<std::size_t> sizes, index;
    for (std::size_t i = 0; i < parents.size(); ++i) {
      text += (i > 0 ? ", " : " | ") + net.name(parents[i]);
      sizes.push_back(net.states(parents[i]));
      index.push_back(0);
    }
    text += " ) {\n";
    const double* row = table.table.data();
    do {
      std::string states;
      for (std::size_t i = 0; i < parents.size(); ++i) {
        states += (i > 0 ? ", " : "") + net.state_names(parents[i])[index[i]];
      }
      text += parents.empty() ? "  table " : "  (" + states + ") ";
      text += numbers(row, net.states(v), ", ") + ";\n";
      row += net.states(v);
    } while (next_combination(index, sizes));
    text += "}\n";
  }
  return text;
}

std::string as_xmlbif(const Network& net) {
  std::string text =
      "<?xml version=\"1.0\"?>\n<!DOCTYPE BIF [ <!ELEMENT BIF (NETWORK)*> ]>\n"
      "<BIF VERSION=\"0.3\">\n<NETWORK>\n<NAME>n</NAME>\n";
  for (Var v = 0; v < net.size(); ++v) {
    text += "<VARIABLE TYPE=\"nature\">\n<NAME>" + net.name(v) + "</NAME>\n";
    for (const std::string& state : net.state_names(v))
      text += "<OUTCOME>" + state + "</OUTCOME>\n";
    text += "</VARIABLE>\n";
  }
  for (Var v = 0; v < net.size(); ++v) {
    const auto& table = net.table(v);
    text += "<DEFINITION>\n<FOR>" + net.name(v) + "</FOR>\n";
    for (std::size_t i = 0; i + 1 < table.scope.size(); ++i) {
      text += "<GIVEN>" + net.name(table.scope[i]) + "</GIVEN>\n";
    }
    text += "<TABLE>" + numbers(table.table.data(), table.table.size(), "\n") +
            "</TABLE>\n</DEFINITION>\n";
  }
  return text + "</NETWORK>\n</BIF>\n";
}

void check_same(const Network& got, const Network& expected) {
  REQUIRE(got.size() == expected.size());
  for (Var v = 0; v < got.size(); ++v) {
    CHECK(got.name(v) == expected.name(v));
    CHECK(got.state_names(v) == expected.state_names(v));
    CHECK(got.table(v).scope == expected.table(v).scope);
    CHECK(got.table(v).table == expected.table(v).table);
  }
}

// Some bytes changed, taken out, put in, or a piece written twice.
std::string damaged(std::string text, std::mt19937& random) {
  static const char list[] = "{}()[]|,;\"<>/&!-.0123456789eE \n\0\xFFvs";
  static const std::string bytes(list, sizeof list - 1);
  for (std::size_t times = 1 + random() % 4; times > 0; --times) {
    const std::size_t at = random() % text.size(), length = random() % 20;
    switch (random() % 4) {
      case 0:
        text[at] = bytes[random() % bytes.size()];
        break;
      case 1:
        text.erase(at, 1 + length);
        break;
      case 2:
        text.insert(at, 1, bytes[random() % bytes.size()]);
        break;
      default:
        text.insert(at, text.substr(random() % text.size(), length));
        break;
    }
    if (text.empty()) return " ";
  }
  return text;
}

// True if the text was refused.
template <typename Read>
bool read_or_refused(const std::string& text, Read read) {
  NetworkLimits limits;
  limits.numbers = 100'000;
  try {
    const Network net = read(text, limits);
    net.check_complete();
    return false;
  } catch (const Error& error) {
    INFO(text);
    const bool clear =
        error.code() == Code::invalid_document || error.code() == Code::limit_exceeded;
    if (!clear || std::string(error.what()).rfind("line ", 0) != 0) FAIL(error.what());
    return true;
  }
}

}  // namespace

TEST_CASE("a table given more than 64 variables is refused, though each has one state only") {
  std::string text, given;
  for (int i = 0; i < 65; ++i) {
    const std::string name = "v" + std::to_string(i);
    text += "variable " + name + " { type discrete [ 1 ] { x }; } probability ( " + name +
            " ) { table 1; }\n";
    given += (i == 0 ? "" : ", ") + name;
  }
  text +=
      "variable w { type discrete [ 1 ] { x }; } probability ( w | " + given + " ) { table 1; }";
  CHECK_THROWS_WITH(faultodds::documents::read_bif(text),
                    Catch::Contains("is given 65 variables; at most 64"));
}

TEST_CASE("random networks written as BIF and XMLBIF are read as they were") {
  std::mt19937 random(20);
  for (int round = 0; round < 200; ++round) {
    const Network net = random_network(random);
    check_same(read_bif(as_bif(net)), net);
    check_same(read_xmlbif(as_xmlbif(net)), net);
  }
}

TEST_CASE("a damaged BIF text is read or refused with its line") {
  std::mt19937 random(21);
  int refused = 0;
  for (int round = 0; round < 3000; ++round) {
    refused += read_or_refused(damaged(as_bif(random_network(random)), random), read_bif) ? 1 : 0;
  }
  CHECK(refused > 1500);
  CHECK(refused < 3000);
}

TEST_CASE("a damaged XMLBIF text is read or refused with its line") {
  std::mt19937 random(22);
  int refused = 0;
  for (int round = 0; round < 3000; ++round) {
    refused +=
        read_or_refused(damaged(as_xmlbif(random_network(random)), random), read_xmlbif) ? 1 : 0;
  }
  CHECK(refused > 1500);
  CHECK(refused < 3000);
}

}  // namespace network_texts_test
