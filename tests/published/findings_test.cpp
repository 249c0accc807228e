// Networks and decision problems from the literature, put as causes and findings, through the C
// interface; the brute-force oracle must give the same published values. Where a value was computed
// by enumeration from published tables rather than printed, the comment says so.
#include <cmath>

#include "tests/published/hypotheses.h"

using namespace published;

namespace {

// Lauritzen & Spiegelhalter 1988, JRSS B 50(2), "chest clinic"; tables from memory, values computed
// by enumeration. Smoking and the visit to Asia act on odds: .05/.01, .1/.01 and .6/.3.
Hypotheses chest_clinic(bool visited) {
  Hypotheses clinic;
  clinic.cause("tuberculosis", 0.01).cause("lung_cancer", 0.01).cause("bronchitis", 0.3);
  clinic.condition("asia", visited ? 1 : 0.01, {{"tuberculosis", (0.05 / 0.95) / (0.01 / 0.99)}});
  clinic.condition(
      "smoking", 0.5,
      {{"lung_cancer", (0.1 / 0.9) / (0.01 / 0.99)}, {"bronchitis", (0.6 / 0.4) / (0.3 / 0.7)}});
  clinic.finding("xray", {"clear", "abnormal"}, {{.95, .05}, {.02, .98}, {.02, .98}},
                 {{{"tuberculosis"}}, {{"lung_cancer"}}}, {1, 0, 0});
  // Dyspnoea depends on bronchitis and on "either"; its table .1 .7 .8 .9 is no noisy-OR, so it is
  // given as a likelihood over three functions of the causes: either, any, both.
  clinic.noisy_or("either", 0, {{{"tuberculosis"}}, {{"lung_cancer"}}});
  clinic.noisy_or("any", 0, {{{"tuberculosis"}}, {{"lung_cancer"}}, {{"bronchitis"}}});
  clinic.noisy_or("both", 0, {{{"tuberculosis", "bronchitis"}}, {{"lung_cancer", "bronchitis"}}});
  return clinic;
}

std::vector<Json> dyspnoea() {
  return {weighs("any", {.1, .8, .8}), weighs("either", {1, .7 / .8, .7 / .8}),
          weighs("both", {1, .9 / .7, .9 / .7})};
}

std::vector<Json> operator+(std::vector<Json> entries, const Json& one) {
  entries.push_back(one);
  return entries;
}

}  // namespace

#define ASK GENERATE(static_cast<Ask>(by_engine), static_cast<Ask>(by_brute_force))

TEST_CASE("the chest clinic has its published priors") {
  const Ask ask = ASK;
  const Answer answer = ask(chest_clinic(false).circuit(), the_case({}));
  CHECK(probability(answer, "tuberculosis") == Approx(0.0104).margin(1e-12));
  CHECK(probability(answer, "lung_cancer") == Approx(0.055).margin(1e-12));
  CHECK(probability(answer, "bronchitis") == Approx(0.45).margin(1e-12));
  CHECK(answer.tests.at("xray").probability.at("abnormal") == Approx(0.110290).margin(5e-7));
  const Answer breathless = ask(chest_clinic(false).circuit(), the_case(dyspnoea()));
  CHECK(std::exp(breathless.log_evidence) == Approx(0.435971).margin(5e-7));
}

TEST_CASE(
    "the chest clinic's posteriors after a visit to Asia and dyspnoea are the published ones") {
  const Ask ask = ASK;
  const Json circuit = chest_clinic(true).circuit();
  const Answer answer = ask(circuit, the_case(dyspnoea()));
  // P(visit, dyspnoea) = 0.004501375, in the tests of the R package gRain too; the visit is 0.01.
  CHECK(0.01 * std::exp(answer.log_evidence) == Approx(0.004501375).epsilon(1e-9));
  CHECK(probability(answer, "tuberculosis") == Approx(0.087751).margin(5e-7));
  CHECK(probability(answer, "lung_cancer") == Approx(0.099525).margin(5e-7));
  CHECK(probability(answer, "bronchitis") == Approx(0.811402).margin(5e-7));
  CHECK(answer.tests.at("xray").probability.at("abnormal") == Approx(0.219539).margin(5e-7));

  const Answer clear = ask(circuit, the_case(dyspnoea() + saw("xray", "clear")));
  CHECK(probability(clear, "tuberculosis") == Approx(0.002249).margin(5e-7));
  CHECK(probability(clear, "lung_cancer") == Approx(0.002550).margin(5e-7));
  CHECK(probability(clear, "bronchitis") == Approx(0.862761).margin(5e-7));

  const Answer abnormal = ask(circuit, the_case(dyspnoea() + saw("xray", "abnormal")));
  CHECK(0.01 * std::exp(abnormal.log_evidence) == Approx(0.00098822675).epsilon(1e-8));
  CHECK(probability(abnormal, "tuberculosis") == Approx(0.3917117200).margin(5e-11));
  CHECK(probability(abnormal, "lung_cancer") == Approx(0.4442705078).margin(5e-11));
  CHECK(probability(abnormal, "bronchitis") == Approx(0.6288217760).margin(5e-11));
}

TEST_CASE("a doubtful x-ray, no : yes = .1 : .9, is weighed as a likelihood") {
  // Computed by enumeration. The likelihood is over the cause, so the film's own errors go in
  // first.
  const Ask ask = ASK;
  const double sound = .95 * .1 + .05 * .9, ill = .02 * .1 + .98 * .9;
  const Answer answer =
      ask(chest_clinic(false).circuit(), the_case({weighs("xray", {sound, ill, ill})}));
  CHECK(std::exp(answer.log_evidence) == Approx(0.188232032).epsilon(1e-9));
  CHECK(probability(answer, "tuberculosis") == Approx(0.0488418464).margin(5e-11));
  CHECK(probability(answer, "lung_cancer") == Approx(0.2582982263).margin(5e-11));
  CHECK(probability(answer, "bronchitis") == Approx(0.4764023671).margin(5e-11));
}

TEST_CASE("the x-ray's information about each illness of the chest clinic is as enumerated") {
  const Ask ask = ASK;
  struct Row {
    std::vector<std::string> about;
    bool visited, breathless;
    double bits;
  };
  const std::vector<Row> rows = {
      {{"lung_cancer"}, false, false, 0.1848072365},
      {{"lung_cancer"}, true, true, 0.2299048248},
      {{"tuberculosis"}, true, true, 0.1988989055},
      {{"bronchitis"}, true, true, 0.0393251179},
      {{"tuberculosis", "lung_cancer", "bronchitis"}, true, true, 0.4993531622},
      {{"lung_cancer"}, false, true, 0.301746},
      {{"tuberculosis"}, false, true, 0.047233},
      {{"bronchitis"}, false, true, 0.020248},
      {{"tuberculosis", "lung_cancer", "bronchitis"}, false, true, 0.370381}};
  for (const auto& row : rows) {
    Hypotheses clinic = chest_clinic(row.visited);
    clinic.ask_about(row.about);
    auto entries = row.breathless ? dyspnoea() : std::vector<Json>{};
    const Answer answer = ask(clinic.circuit(), the_case(entries + Hypotheses::about()));
    INFO(row.about[0] << " of " << row.about.size() << ", given " << entries.size());
    if (row.about.size() == 1) {
      told(answer, "xray", [&](double bits) { CHECK(bits == Approx(row.bits).margin(1e-6)); });
    } else {
      CHECK(answer.tests.at("xray").information_bits == Approx(row.bits).margin(1e-6));
    }
  }
}

TEST_CASE("dyspnoea weighs 2.94 db for lung cancer and an abnormal x-ray 11.56 db more") {
  // I. J. Good's weight of evidence; values computed from the chest clinic's tables.
  const Ask ask = ASK;
  const Json circuit = chest_clinic(false).circuit();
  const Answer first = ask(circuit, the_case(dyspnoea()));
  const Answer second = ask(circuit, the_case(dyspnoea() + saw("xray", "abnormal")));
  const double weight = first.faults.at("all.lung_cancer").decibans.value();
  CHECK(weight == Approx(2.9398).margin(5e-5));
  CHECK(second.faults.at("all.lung_cancer").decibans.value() - weight ==
        Approx(11.5601).margin(5e-5));
}

TEST_CASE("burglary when both neighbours call has probability 0.284") {
  // Russell & Norvig, Artificial Intelligence, Bayesian networks chapter; tables from memory:
  // .001 .002; alarm .95 .94 .29 .001; calls .90 .05 and .70 .01. The alarm is summed out here.
  const Ask ask = ASK;
  auto calls = [](double alarm, bool second) {
    return second ? alarm * .90 * .70 + (1 - alarm) * .05 * .01 : alarm * .90 + (1 - alarm) * .05;
  };
  Hypotheses street;
  street.cause("burglary", .001).cause("earthquake", .002);
  street.noisy_or("any", 0, {{{"burglary"}}, {{"earthquake"}}});
  street.noisy_or("earth_shook", 0, {{{"earthquake"}}});
  street.noisy_or("both", 0, {{{"burglary", "earthquake"}}});
  auto evidence = [&](bool second) {
    const double none = calls(.001, second), burglary = calls(.94, second),
                 earthquake = calls(.29, second), both = calls(.95, second);
    return the_case({weighs("any", {none, burglary, burglary}),
                     weighs("earth_shook", {1, earthquake / burglary, earthquake / burglary}),
                     weighs("both", {1, both / earthquake, both / earthquake})});
  };
  const Answer both = ask(street.circuit(), evidence(true));
  CHECK(std::exp(both.log_evidence) == Approx(0.0020841002).margin(5e-11));
  CHECK(probability(both, "burglary") == Approx(0.284172).margin(5e-7));
  CHECK(probability(both, "earthquake") == Approx(0.1760668384).margin(5e-11));
  const Answer one = ask(street.circuit(), evidence(false));
  CHECK(probability(one, "burglary") == Approx(0.0162837299).margin(5e-11));
}

TEST_CASE("a neighbour's wet grass explains the sprinkler away") {
  // Jensen, An Introduction to Bayesian Networks; tables from memory, values computed.
  const Ask ask = ASK;
  Hypotheses lawn;
  lawn.cause("rain", .2).cause("sprinkler", .1);
  lawn.noisy_or("own", 0, {{{"rain"}}, {{"sprinkler"}, .9}});
  lawn.noisy_or("neighbours", .2, {{{"rain"}}});
  const Answer own = ask(lawn.circuit(), the_case({saw("own", "yes")}));
  CHECK(probability(own, "rain") == Approx(0.7352941176).margin(5e-11));
  CHECK(probability(own, "sprinkler") == Approx(0.3382352941).margin(5e-11));
  const Answer both = ask(lawn.circuit(), the_case({saw("own", "yes"), saw("neighbours", "yes")}));
  CHECK(probability(both, "rain") == Approx(0.9328358209).margin(5e-11));
  CHECK(probability(both, "sprinkler") == Approx(0.1604477612).margin(5e-11));
}

TEST_CASE("the fever of cold, flu and malaria follows the noisy-OR table") {
  // Russell & Norvig, as above; from memory.
  const Ask ask = ASK;
  const double table[8] = {0, .9, .8, .98, .4, .94, .88, .988};  // cold flu malaria = 000 .. 111
  for (int row = 0; row < 8; ++row) {
    Hypotheses patient;
    patient.cause("cold", row >> 2 & 1).cause("flu", row >> 1 & 1).cause("malaria", row & 1);
    patient.noisy_or("fever", 0, {{{"cold"}, .4}, {{"flu"}, .8}, {{"malaria"}, .9}});
    const Answer answer = ask(patient.circuit(), the_case({}));
    INFO("row " << row);
    CHECK(answer.tests.at("fever").probability.at("yes") == Approx(table[row]).margin(1e-12));
  }
}

TEST_CASE("a leaky noisy-OR of three causes gives the enumerated posteriors and information") {
  // Computed by enumeration; the information of the third finding about all causes together is less
  // than the sum of its informations about each.
  const Ask ask = ASK;
  Hypotheses net;
  net.cause("a", .01).cause("b", .05).cause("c", .10);
  net.noisy_or("m0", .01, {{{"a"}, .9}, {{"b"}, .5}});
  net.noisy_or("m1", .02, {{{"b"}, .7}, {{"c"}, .4}});
  net.noisy_or("m2", .05, {{{"a"}, .6}, {{"c"}, .8}});
  auto posteriors = [](const Answer& answer, double a, double b, double c) {
    CHECK(probability(answer, "a") == Approx(a).margin(5e-11));
    CHECK(probability(answer, "b") == Approx(b).margin(5e-11));
    CHECK(probability(answer, "c") == Approx(c).margin(5e-11));
  };
  const Answer one = ask(net.circuit(), the_case({saw("m0", "yes")}));
  CHECK(std::exp(one.log_evidence) == Approx(0.04343725).epsilon(1e-9));
  posteriors(one, 0.2079954417, 0.5864263967, 0.1);
  const Answer three =
      ask(net.circuit(), the_case({saw("m0", "yes"), saw("m1", "yes"), saw("m2", "yes")}));
  CHECK(std::exp(three.log_evidence) == Approx(0.0034288865).margin(5e-11));
  posteriors(three, 0.1880390420, 0.7831068259, 0.6834590802);
  const Answer not_third =
      ask(net.circuit(), the_case({saw("m0", "yes"), saw("m1", "yes"), saw("m2", "no")}));
  CHECK(std::exp(not_third.log_evidence) == Approx(0.0159179330).margin(5e-11));
  posteriors(not_third, 0.0127575176, 0.9799096825, 0.0310699566);
  const Answer two = ask(net.circuit(), the_case({saw("m0", "yes"), saw("m1", "yes")}));
  CHECK(two.tests.at("m2").information_bits == Approx(0.3172167794).margin(5e-11));

  double sum = 0;
  int given = 0;
  for (const char* cause : {"a", "b", "c"}) {
    Hypotheses asked = net;
    asked.ask_about({cause});
    const Answer answer =
        ask(asked.circuit(), the_case({saw("m0", "yes"), saw("m1", "yes"), Hypotheses::about()}));
    told(answer, "m2", [&](double bits) {
      sum += bits;
      ++given;
    });
  }
  if (given > 0) CHECK(sum == Approx(0.389).margin(5e-4));
}

TEST_CASE("the seismic test of the oil wildcatter tells 0.160411 bit") {
  // Raiffa, Decision Analysis, 1968: dry, wet, soaking; diffuse, open, closed structure.
  const Ask ask = ASK;
  Hypotheses prospect;
  prospect.cause("oil", {.5, .3, .2});
  prospect.finding("structure", {"diffuse", "open", "closed"},
                   {{.6, .3, .1}, {.3, .4, .3}, {.1, .4, .5}}, {{{"oil"}}}, {1, 0, 0});
  const auto test = ask(prospect.circuit(), the_case({})).tests.at("structure");
  CHECK(test.probability.at("diffuse") == Approx(.41).margin(1e-12));
  CHECK(test.probability.at("open") == Approx(.35).margin(1e-12));
  CHECK(test.probability.at("closed") == Approx(.24).margin(1e-12));
  CHECK(test.information_bits == Approx(0.160411).margin(5e-7));
}

TEST_CASE("the car that does not start has its published posteriors") {
  // Jensen & Nielsen, Bayesian Networks and Decision Graphs; tables from memory, values computed.
  const Ask ask = ASK;
  Hypotheses car;
  car.cause("no_fuel", .02).cause("dirty_plugs", {.96, .04, 0});
  car.finding("starts", {"yes", "no"}, {{.99, .01}, {.01, .99}, {0, 1}},
              {{{"no_fuel"}}, {{"dirty_plugs"}}}, {1, 0, 0});
  car.finding("gauge", {"full", "half", "empty"},
              {{.39, .60, .01}, {.001, .001, .998}, {.001, .001, .998}}, {{{"no_fuel"}}},
              {1, 0, 0});
  const Answer dead = ask(car.circuit(), the_case({saw("starts", "no")}));
  CHECK(std::exp(dead.log_evidence) == Approx(.068216).margin(5e-7));
  CHECK(probability(dead, "no_fuel") == Approx(.293186).margin(5e-7));
  CHECK(probability(dead, "dirty_plugs") == Approx(.580626).margin(5e-7));
  CHECK(dead.tests.at("gauge").information_bits == Approx(.817696).margin(5e-7));
  const Answer half = ask(car.circuit(), the_case({saw("starts", "no"), saw("gauge", "half")}));
  CHECK(probability(half, "no_fuel") == Approx(.000691).margin(5e-7));
  CHECK(probability(half, "dirty_plugs") == Approx(.804350).margin(5e-7));
  const Answer empty = ask(car.circuit(), the_case({saw("starts", "no"), saw("gauge", "empty")}));
  CHECK(probability(empty, "no_fuel") == Approx(.976413).margin(5e-7));
  CHECK(probability(empty, "dirty_plugs") == Approx(.058041).margin(5e-7));

  car.ask_about({"dirty_plugs"});
  const Answer plugs = ask(car.circuit(), the_case({saw("starts", "no"), Hypotheses::about()}));
  told(plugs, "gauge", [](double bits) { CHECK(bits == Approx(.385785).margin(1e-6)); });
}

TEST_CASE("the gains of a test matrix with at most one fault are those of the matrix") {
  // A test-sequencing example of the diagnosability literature; matrix from memory, gains computed.
  // States: no fault .70, then four faults; a test fails when its fault is there.
  const Ask ask = ASK;
  const std::vector<double> p = {.01, .02, .10, .17};
  const std::vector<std::string> detected = {"01001", "00110", "10011", "11000"};
  const std::vector<double> gains = {.8415, .6801, .1414, .5294, .4999};
  Hypotheses system;
  std::vector<Hypotheses::Shows> pairs;
  for (std::size_t i = 0; i < p.size(); ++i) {
    const double odds = p[i] / .70;
    system.cause("f" + std::to_string(i + 1), odds / (1 + odds));
    for (std::size_t k = 0; k < i; ++k) {
      pairs.push_back({{"f" + std::to_string(k + 1), "f" + std::to_string(i + 1)}, 1});
    }
  }
  system.noisy_or("two_faults", 0, pairs);
  for (std::size_t t = 0; t < gains.size(); ++t) {
    std::vector<Hypotheses::Shows> shows;
    for (std::size_t i = 0; i < p.size(); ++i) {
      if (detected[i][t] == '1') shows.push_back({{"f" + std::to_string(i + 1)}, 1});
    }
    system.noisy_or("t" + std::to_string(t + 1), 0, shows);
  }
  const Answer answer = ask(system.circuit(), the_case({saw("two_faults", "no")}));
  CHECK(probability(answer, "f4") == Approx(.17).margin(1e-12));
  for (std::size_t t = 0; t < gains.size(); ++t) {
    INFO("test " << t + 1);
    CHECK(answer.tests.at("t" + std::to_string(t + 1)).information_bits ==
          Approx(gains[t]).margin(5e-5));
  }
}
