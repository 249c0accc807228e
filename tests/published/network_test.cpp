// Published networks, each with its source, computed through the general network interface.
#include <catch2/catch.hpp>
#include <cmath>
#include <string>

#include "core/diagnosis/entropy.h"
#include "core/network/junction_tree.h"

using namespace faultodds;
using namespace faultodds::network;

namespace {

// Yes/no variables throughout: state 0 is yes.
Var yes_no(Network& net, const std::string& name, const std::vector<Var>& parents,
           const std::vector<double>& yes) {
  const Var v = net.add(name, 2, {"yes", "no"});
  std::vector<double> table;
  for (double p : yes) {
    table.push_back(p);
    table.push_back(1 - p);
  }
  net.set_table(v, parents, table);
  return v;
}

const std::vector<double> kYes{1, 0}, kNo{0, 1};

struct Query {
  JunctionTree tree;
  Propagation propagation;
  double evidence = 0;
  Query(const Network& net, const std::vector<std::pair<Var, std::vector<double>>>& known,
        const std::vector<Var>& scope = {})
      : tree(make(net, scope)), propagation(tree) {
    for (const auto& [v, likelihood] : known) propagation.multiply(v, likelihood);
    evidence = std::exp(propagation.collect());
    propagation.distribute();
  }
  static JunctionTree make(const Network& net, const std::vector<Var>& scope) {
    std::vector<const Factor*> factors;
    for (Var v = 0; v < net.size(); ++v) factors.push_back(&net.table(v));
    return JunctionTree(net.all_states(), factors, scope, {});
  }
  double yes(Var v) const { return propagation.posterior(v)[0]; }
};

// I(last of scope; the others | evidence), bits.
double information(const Network& net,
                   const std::vector<std::pair<Var, std::vector<double>>>& known,
                   std::vector<Var> others, Var about) {
  others.push_back(about);
  const Query query(net, known, others);
  const std::vector<double> joint = query.propagation.root_joint(others);
  const std::size_t width = net.states(about);
  std::vector<double> rest, last(width, 0.0);
  for (std::size_t i = 0; i < joint.size(); i += width) {
    double sum = 0;
    for (std::size_t s = 0; s < width; ++s) {
      sum += joint[i + s];
      last[s] += joint[i + s];
    }
    rest.push_back(sum);
  }
  using diagnosis::entropy_bits;
  return entropy_bits(rest) + entropy_bits(last) - entropy_bits(joint);
}

struct ChestClinic {
  Network net;
  Var asia = yes_no(net, "asia", {}, {.01});
  Var smoking = yes_no(net, "smoking", {}, {.5});
  Var tuberculosis = yes_no(net, "tuberculosis", {asia}, {.05, .01});
  Var lung = yes_no(net, "lung cancer", {smoking}, {.1, .01});
  Var bronchitis = yes_no(net, "bronchitis", {smoking}, {.6, .3});
  Var either = yes_no(net, "either", {tuberculosis, lung}, {1, 1, 1, 0});
  Var xray = yes_no(net, "x-ray", {either}, {.98, .05});
  Var dyspnoea = yes_no(net, "dyspnoea", {either, bronchitis}, {.9, .7, .8, .1});
};

bool near(double value, double printed) { return std::fabs(value - printed) < 5.1e-7; }
bool close(double value, double computed) { return std::fabs(value - computed) < 5.1e-11; }

}  // namespace

// Lauritzen & Spiegelhalter 1988, JRSS B 50(2); parameters from memory, values recomputed by
// enumeration; P(e) of the visit and dyspnoea also in the tests of the R package gRain.
TEST_CASE("the chest clinic network gives its published posteriors") {
  const ChestClinic c;
  const Query prior(c.net, {});
  CHECK(near(prior.yes(c.tuberculosis), 0.0104));
  CHECK(near(prior.yes(c.lung), 0.055));
  CHECK(near(prior.yes(c.bronchitis), 0.45));
  CHECK(near(prior.yes(c.xray), 0.110290));
  CHECK(near(prior.yes(c.dyspnoea), 0.435971));

  const Query visit(c.net, {{c.asia, kYes}, {c.dyspnoea, kYes}});
  CHECK(close(visit.evidence, 0.004501375));
  CHECK(near(visit.yes(c.tuberculosis), 0.087751));
  CHECK(near(visit.yes(c.lung), 0.099525));
  CHECK(near(visit.yes(c.bronchitis), 0.811402));
  CHECK(near(visit.yes(c.xray), 0.219539));
  CHECK(near(visit.yes(c.smoking), 0.625920));

  const Query clear(c.net, {{c.asia, kYes}, {c.dyspnoea, kYes}, {c.xray, kNo}});
  CHECK(near(clear.yes(c.tuberculosis), 0.002249));
  CHECK(near(clear.yes(c.lung), 0.002550));
  CHECK(near(clear.yes(c.bronchitis), 0.862761));
  CHECK(near(clear.yes(c.smoking), 0.604512));

  const Query positive(c.net, {{c.asia, kYes}, {c.dyspnoea, kYes}, {c.xray, kYes}});
  CHECK(close(positive.evidence, 0.00098822675));
  CHECK(close(positive.yes(c.tuberculosis), 0.3917117200));
  CHECK(close(positive.yes(c.lung), 0.4442705078));
  CHECK(close(positive.yes(c.bronchitis), 0.6288217760));
}

TEST_CASE("a likelihood on a variable is evidence of its own kind") {  // chest clinic, as above
  const ChestClinic c;
  const Query soft(c.net, {{c.xray, {.9, .1}}});
  CHECK(close(soft.evidence, 0.188232032));
  CHECK(close(soft.yes(c.tuberculosis), 0.0488418464));
  CHECK(close(soft.yes(c.lung), 0.2582982263));
  CHECK(close(soft.yes(c.bronchitis), 0.4764023671));
}

TEST_CASE("mutual informations of the chest clinic equal enumeration") {  // values computed
  const ChestClinic c;
  CHECK(close(information(c.net, {}, {c.lung}, c.xray), 0.1848072365));
  const std::vector<std::pair<Var, std::vector<double>>> known{{c.asia, kYes}, {c.dyspnoea, kYes}};
  CHECK(close(information(c.net, known, {c.lung}, c.xray), 0.2299048248));
  CHECK(close(information(c.net, known, {c.tuberculosis}, c.xray), 0.1988989055));
  CHECK(close(information(c.net, known, {c.bronchitis}, c.xray), 0.0393251179));
  CHECK(close(information(c.net, known, {c.tuberculosis, c.lung, c.bronchitis}, c.xray),
              0.4993531622));
}

// Russell & Norvig, Artificial Intelligence, chapter on Bayesian networks (printed 0.284);
// parameters from memory, values recomputed by enumeration.
TEST_CASE("the burglary network gives its published posteriors") {
  Network net;
  const Var burglary = yes_no(net, "burglary", {}, {.001});
  const Var earthquake = yes_no(net, "earthquake", {}, {.002});
  const Var alarm = yes_no(net, "alarm", {burglary, earthquake}, {.95, .94, .29, .001});
  const Var first = yes_no(net, "first neighbour calls", {alarm}, {.90, .05});
  const Var second = yes_no(net, "second neighbour calls", {alarm}, {.70, .01});
  const Query both(net, {{first, kYes}, {second, kYes}});
  CHECK(close(both.evidence, 0.0020841002));
  CHECK(near(both.yes(burglary), 0.284172));
  CHECK(close(both.yes(earthquake), 0.1760668384));
  CHECK(close(both.yes(alarm), 0.7606920389));
  CHECK(close(Query(net, {{first, kYes}}).yes(burglary), 0.0162837299));
}

// Jensen, An Introduction to Bayesian Networks (wet grass); tables from memory.
TEST_CASE("the neighbour's wet grass explains the sprinkler away") {
  Network net;
  const Var rain = yes_no(net, "rain", {}, {.2});
  const Var sprinkler = yes_no(net, "sprinkler", {}, {.1});
  const Var neighbours = yes_no(net, "neighbour's grass wet", {rain}, {1, .2});
  const Var own = yes_no(net, "own grass wet", {rain, sprinkler}, {1, 1, .9, 0});
  const Query wet(net, {{own, kYes}});
  CHECK(close(wet.yes(rain), 0.7352941176));
  CHECK(close(wet.yes(sprinkler), 0.3382352941));
  const Query both(net, {{own, kYes}, {neighbours, kYes}});
  CHECK(close(both.yes(rain), 0.9328358209));
  CHECK(close(both.yes(sprinkler), 0.1604477612));
}

// Jensen & Nielsen, Bayesian Networks and Decision Graphs (car start problem); tables from memory,
// values computed by enumeration.
TEST_CASE("the car start problem gives its posteriors") {
  Network net;
  const Var fuel = yes_no(net, "fuel", {}, {.98});
  const Var plugs = yes_no(net, "plugs clean", {}, {.96});
  const Var gauge = net.add("gauge", 3, {"full", "half", "empty"});
  net.set_table(gauge, {fuel}, {.39, .60, .01, .001, .001, .998});
  const Var starts = yes_no(net, "starts", {fuel, plugs}, {.99, .01, 0, 0});
  const Query no_start(net, {{starts, kNo}});
  CHECK(near(no_start.evidence, .068216));
  CHECK(near(1 - no_start.yes(fuel), .293186));
  CHECK(near(1 - no_start.yes(plugs), .580626));
  const Query half(net, {{starts, kNo}, {gauge, {0, 1, 0}}});
  CHECK(near(1 - half.yes(fuel), .000691));
  CHECK(near(1 - half.yes(plugs), .804350));
  const Query empty(net, {{starts, kNo}, {gauge, {0, 0, 1}}});
  CHECK(near(1 - empty.yes(fuel), .976413));
  CHECK(near(1 - empty.yes(plugs), .058041));
  CHECK(near(information(net, {{starts, kNo}}, {fuel}, gauge), .817696));
  CHECK(near(information(net, {{starts, kNo}}, {plugs}, gauge), .385785));
}
