// Asking a network through its evidence: against enumeration by hand, with evidence that conflicts,
// and with evidence that products of doubles do not span.
#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <thread>
#include <vector>

#include "core/network/inference.h"

using namespace faultodds::network;

namespace {

constexpr double kNever = -std::numeric_limits<double>::infinity();

// A cause of two states and `n` signs of it; the even ones speak for state 0, the odd for state 1,
// by a thousand to one.
Network cause_with_signs(std::size_t n) {
  Network net;
  const Var cause = net.add("cause", 2, {"a", "b"});
  net.set_table(cause, {}, {0.25, 0.75});
  for (std::size_t i = 0; i < n; ++i) {
    const Var sign = net.add("sign " + std::to_string(i), 2, {"seen", "not seen"});
    const double for_a = i % 2 == 0 ? 0.999 : 0.000999;
    const double for_b = i % 2 == 0 ? 0.000999 : 0.999;
    net.set_table(sign, {cause}, {for_a, 1 - for_a, for_b, 1 - for_b});
  }
  return net;
}

// A chain of copies that are exact but for one in a million.
Network chain(std::size_t n) {
  Network net;
  for (Var v = 0; v < n; ++v) {
    net.add("v" + std::to_string(v), 2, {"0", "1"});
    if (v == 0) {
      net.set_table(v, {}, {0.5, 0.5});
    } else {
      net.set_table(v, {v - 1}, {0.999999, 0.000001, 0.000001, 0.999999});
    }
  }
  return net;
}

struct Asked {
  double log_evidence;
  std::vector<double> posterior;  // of variable 0
};
Asked ask(const Inference& inference, Inference::Workspace& workspace) {
  Asked asked{collect(workspace), {}};
  if (std::isfinite(asked.log_evidence)) {
    distribute(workspace);
    for (std::size_t s = 0; s < inference.network().states(0); ++s) {
      asked.posterior.push_back(workspace.propagation.posterior(0)[s]);
    }
  }
  return asked;
}

}  // namespace

TEST_CASE("hard and likelihood evidence on one variable multiply") {
  const Inference inference(cause_with_signs(1), {});
  const Inference::Lease workspace(inference);
  workspace->evidence.multiply(0, std::vector<double>{0.2, 0.4});
  workspace->evidence.multiply(0, std::vector<double>{0.5, 0.1});
  workspace->evidence.observe(1, 0);
  const double a = 0.25 * 0.1 * 0.999, b = 0.75 * 0.04 * 0.000999;
  const Asked asked = ask(inference, *workspace);
  CHECK(asked.log_evidence == Approx(std::log(a + b)).epsilon(1e-14));
  CHECK(asked.posterior[0] == Approx(a / (a + b)).epsilon(1e-14));
}

TEST_CASE("evidence that is taken back is forgotten, and may be told anew") {
  const Inference inference(cause_with_signs(2), {});
  const Inference::Lease workspace(inference);
  workspace->evidence.observe(1, 0);
  workspace->evidence.observe(2, 0);
  workspace->evidence.retract(1);
  workspace->evidence.retract(1);
  CHECK(workspace->evidence.known() == std::vector<Var>{2});
  const Asked one = ask(inference, *workspace);
  CHECK(one.log_evidence == Approx(std::log(0.25 * 0.000999 + 0.75 * 0.999)).epsilon(1e-14));
  workspace->evidence.retract(2);
  CHECK(ask(inference, *workspace).log_evidence == 0);
  workspace->evidence.observe(2, 1);
  CHECK(ask(inference, *workspace).log_evidence ==
        Approx(std::log(0.25 * 0.999001 + 0.75 * 0.001)).epsilon(1e-14));
}

TEST_CASE("a thousand contradictory signs of one cause cancel and do not underflow") {
  constexpr std::size_t kSigns = 1000;
  const Inference inference(cause_with_signs(kSigns), {});
  const Inference::Lease workspace(inference);
  for (Var v = 1; v <= kSigns; ++v) workspace->evidence.observe(v, 0);
  const Asked asked = ask(inference, *workspace);
  CHECK(asked.posterior[0] == Approx(0.25).epsilon(1e-10));
  CHECK(asked.log_evidence == Approx(500 * std::log(0.999 * 0.000999)).epsilon(1e-13));
}

TEST_CASE("signs told in an order that first rules a state out by 1e-1500 still cancel") {
  constexpr std::size_t kSigns = 1000;
  const Inference inference(cause_with_signs(kSigns), {});
  const Inference::Lease workspace(inference);
  // Against state 1 first, then against state 0: a product kept as a double would be 0 midway.
  for (Var v = 1; v <= kSigns; v += 2) workspace->evidence.observe(v, 0);
  for (Var v = 2; v <= kSigns; v += 2) workspace->evidence.observe(v, 0);
  CHECK(ask(inference, *workspace).posterior[0] == Approx(0.25).epsilon(1e-10));
}

TEST_CASE("likelihoods of one variable that differ by more than a double spans are kept") {
  const Inference inference(cause_with_signs(0), {});
  const Inference::Lease workspace(inference);
  for (int i = 0; i < 5; ++i) workspace->evidence.multiply(0, std::vector<double>{1, 1e-200});
  CHECK(ask(inference, *workspace).posterior[0] == 1);
  workspace->evidence.multiply(0, std::vector<double>{0, 1e-300});
  const Asked asked = ask(inference, *workspace);
  CHECK(asked.posterior[1] == 1);
  CHECK(asked.log_evidence == Approx(std::log(0.75) - 1300 * std::log(10)).epsilon(1e-13));
}

TEST_CASE("evidence at both ends of a chain that says the opposite is spread along it") {
  constexpr std::size_t kLength = 400;
  const Inference inference(chain(kLength), {});
  const Inference::Lease workspace(inference);
  const std::vector<double> strong_0{1, 1e-250}, strong_1{1e-250, 1};
  for (Var v = 0; v < kLength; ++v)
    workspace->evidence.multiply(v, v % 2 == 0 ? strong_0 : strong_1);
  const Asked asked = ask(inference, *workspace);
  // Every change costs a factor 1e-6, every denial 1e-250: all 399 changes are made.
  CHECK(asked.log_evidence == Approx(std::log(0.5) + 399 * std::log(1e-6)).epsilon(1e-12));
  CHECK(asked.posterior[0] == Approx(1).epsilon(1e-12));
}

TEST_CASE(
    "evidence that denies every state of a long chain a little has the posterior of its sum") {
  constexpr std::size_t kLength = 3000;
  const Inference inference(chain(kLength), {});
  const Inference::Lease workspace(inference);
  for (Var v = 0; v < kLength; ++v) {
    workspace->evidence.multiply(v, std::vector<double>{1e-100, 2e-100});
  }
  const Asked asked = ask(inference, *workspace);
  CHECK(std::isfinite(asked.log_evidence));
  CHECK(asked.log_evidence < -600000);
  CHECK(asked.posterior[0] + asked.posterior[1] == Approx(1).epsilon(1e-12));
}

TEST_CASE("in logarithms the answer is that of plain products where both can be had") {
  const Inference inference(cause_with_signs(6), {});
  const Inference::Lease plain(inference), logarithms(inference);
  for (Var v = 1; v <= 6; ++v) {
    for (const auto* workspace : {&plain, &logarithms})
      (*workspace)->evidence.observe(v, v % 3 == 0);
  }
  // A weight that is too small for a double forces logarithms; that state is impossible anyway.
  logarithms->evidence.multiply(1, std::vector<double>{1, 1e-320});
  const Asked expected = ask(inference, *plain), got = ask(inference, *logarithms);
  CHECK(got.log_evidence == Approx(expected.log_evidence).epsilon(1e-13));
  for (Var v = 0; v < inference.network().size(); ++v) {
    for (std::size_t s = 0; s < 2; ++s) {
      CHECK(logarithms->propagation.posterior(v)[s] ==
            Approx(plain->propagation.posterior(v)[s]).margin(1e-13));
    }
  }
  // And the workspace works with plain products again.
  logarithms->evidence.clear();
  CHECK(ask(inference, *logarithms).posterior[0] == Approx(0.25).epsilon(1e-15));
}

TEST_CASE("in logarithms, what has no evidence of its own follows from what has") {
  // a -> b -> c -> d -> e, where b is a and d is c; only c is observed, in the middle.
  Network net;
  for (const char* name : {"a", "b", "c", "d", "e"}) net.add(name, 2, {"0", "1"});
  net.set_table(0, {}, {0.25, 0.75});
  net.set_table(1, {0}, {1, 0, 0, 1});
  net.set_table(2, {1}, {0.9, 0.1, 0.2, 0.8});
  net.set_table(3, {2}, {1, 0, 0, 1});
  net.set_table(4, {3}, {0.7, 0.3, 0.4, 0.6});
  const Inference inference(net, {});
  const Inference::Lease workspace(inference);
  workspace->evidence.multiply(2, std::vector<double>{1, 1e-320});  // forces logarithms
  const Asked asked = ask(inference, *workspace);
  // P(c = 0) = 0.25 * 0.9 + 0.75 * 0.2 = 0.375, and 0.225 of it with a = 0.
  CHECK(asked.log_evidence == Approx(std::log(0.375)).epsilon(1e-13));
  const std::vector<double> first_state{0.6, 0.6, 1, 1, 0.7};
  for (Var v = 0; v < net.size(); ++v) {
    INFO(net.name(v));
    CHECK(workspace->propagation.posterior(v)[0] == Approx(first_state[v]).epsilon(1e-13));
    CHECK(workspace->propagation.posterior(v)[1] == Approx(1 - first_state[v]).margin(1e-13));
  }
}

TEST_CASE("impossible evidence has log-probability minus infinity and a minimal conflict") {
  Network net;
  const std::vector<std::string> states{"no", "yes"};
  for (const char* name : {"a", "b", "c", "either", "unrelated"}) net.add(name, 2, states);
  for (Var v : {0u, 1u, 2u, 4u}) net.set_table(v, {}, {0.5, 0.5});
  net.set_function(3, {0, 1}, [](const std::vector<std::size_t>& s) { return s[0] | s[1]; });
  const Inference inference(std::move(net), {});
  const Inference::Lease workspace(inference);
  workspace->evidence.observe(4, 1);
  workspace->evidence.observe(1, 1);
  workspace->evidence.observe(2, 0);
  workspace->evidence.observe(0, 0);
  CHECK(std::isfinite(collect(*workspace)));
  workspace->evidence.observe(3, 0);
  CHECK(collect(*workspace) == kNever);
  CHECK(conflict(*workspace) == std::vector<Var>{1, 3});
  workspace->evidence.retract(1);
  CHECK(std::isfinite(collect(*workspace)));
}

TEST_CASE("a variable whose every state is excluded conflicts with itself") {
  const Inference inference(cause_with_signs(3), {});
  const Inference::Lease workspace(inference);
  workspace->evidence.observe(2, 0);
  workspace->evidence.observe(1, 0);
  workspace->evidence.observe(1, 1);
  CHECK(collect(*workspace) == kNever);
  CHECK(conflict(*workspace) == std::vector<Var>{1});
}

TEST_CASE("a conflict among many observations is found and each of it is needed") {
  // n yes/no variables and their exclusive or, observed odd although every variable is observed 0.
  Network net;
  constexpr Var kN = 12;
  Var parity = 0;
  for (Var v = 0; v < kN; ++v) {
    const Var x = net.add("x" + std::to_string(v), 2, {"0", "1"});
    net.set_table(x, {}, {0.5, 0.5});
    if (v == 0) {
      parity = x;
      continue;
    }
    const Var next = net.add("parity" + std::to_string(v), 2, {"0", "1"});
    net.set_function(next, {parity, x},
                     [](const std::vector<std::size_t>& s) { return s[0] ^ s[1]; });
    parity = next;
  }
  const Inference inference(std::move(net), {});
  const Inference::Lease workspace(inference);
  workspace->evidence.observe(parity, 1);
  std::vector<Var> expected{parity};
  for (Var v = 0; v < inference.network().size(); ++v) {
    if (inference.network().name(v)[0] != 'x') continue;
    workspace->evidence.observe(v, 0);
    expected.push_back(v);
  }
  CHECK(collect(*workspace) == kNever);
  CHECK(conflict(*workspace) == expected);
}

TEST_CASE("workspaces are kept and come back empty") {
  const Inference inference(cause_with_signs(2), {});
  const Propagation* first = nullptr;
  {
    const Inference::Lease workspace(inference);
    first = &workspace->propagation;
    workspace->evidence.observe(1, 0);
    collect(*workspace);
  }
  const Inference::Lease workspace(inference);
  CHECK(&workspace->propagation == first);
  CHECK(workspace->evidence.known().empty());
  CHECK(collect(*workspace) == 0);
}
