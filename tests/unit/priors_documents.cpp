#include <catch2/catch.hpp>
#include <string>

#include "capi/documents/learned_pack.h"
#include "capi/documents/pack_reader.h"
#include "core/error.h"

namespace priors_documents {

using namespace faultodds;
using namespace faultodds::priors;
using Catch::Contains;
using documents::parse_json;

namespace {

PriorPack learned(const std::string& source, int first, int count) {
  static const Vocabulary vocabulary{{{"valve", {{"bore_wear", "INL"}, {"seat_leak", "INL"}}}}};
  Tally tally(vocabulary);
  std::string rows = "work_order,closed,component,finding,grade,hours,sound_at,asset_class\n";
  for (int i = first; i < first + count; ++i) {
    rows.append(std::to_string(i)).append(",2023-02-").append(std::to_string(1 + i % 28));
    rows.append(i % 3 == 0   ? ",valve,bore_wear,worn,"
                : i % 3 == 1 ? ",valve,UNK,,"
                             : ",valve,none,,");
    rows.append(std::to_string(1000 + 37 * i)).append(i % 2 == 0 ? ",400,front\n" : ",,rear\n");
  }
  read_work_orders(text_source(rows), {}, vocabulary, {},
                   [&](const WorkOrder& order) { tally.add(order); });
  read_exposure(
      text_source("component,in_service,hours,age,asset_class\nvalve,7,1234.56,800,rear\n"), {},
      vocabulary, {}, [&](const Exposure& e) { tally.add(e); });
  PriorPack pack;
  pack.id = "north";
  pack.title = "North depot";
  pack.date = *make_date(2023, 3, 1);
  pack.judgements[{"valve", "bore_wear", ""}] = {{{18.5, 1, 0.5}}, WeibullPrior{}, "a fitter"};
  pack.judgements[{"valve", "seat_leak", ""}] = {{{19, 0.6, 0.4}}, {}, "shipped"};
  pack.sources = {{source,
                   "orders of 2023",
                   60,
                   2,
                   make_date(2023, 2, 1),
                   make_date(2023, 2, 28),
                   {{"duplicate", 1}, {"impossible_date", 1}}}};
  pack.statistics = tally.statistics();
  estimate(pack);
  return pack;
}

}  // namespace

TEST_CASE("a learned pack is the same after it was written and read") {
  const PriorPack pack = learned("north", 0, 60);
  const std::string text = documents::write_prior_pack(pack);
  const PriorPack read = documents::read_prior_pack(parse_json(text));
  CHECK(read.id == pack.id);
  CHECK(read.title == pack.title);
  CHECK(read.date == pack.date);
  CHECK(read.judgements == pack.judgements);
  CHECK(read.sources == pack.sources);
  CHECK(read.settings == pack.settings);
  CHECK(read.statistics == pack.statistics);
  CHECK(read.estimates == pack.estimates);
  CHECK(documents::write_prior_pack(read) == text);
}

TEST_CASE("a judgement of wear-out stays in a pack that is written and read") {
  PriorPack pack = learned("north", 0, 60);
  WeibullPrior both;
  both.shape = WeibullPrior::LogNormal{1.8, 0.4};
  both.scale = WeibullPrior::LogNormal{9000, 0.6};
  pack.judgements[{"valve", "bore_wear", ""}].wear_out = both;
  pack.judgements[{"valve", "seat_leak", ""}].wear_out = WeibullPrior{std::nullopt, both.scale};
  estimate(pack);
  const PriorPack read = documents::read_prior_pack(parse_json(documents::write_prior_pack(pack)));
  CHECK(read.judgements == pack.judgements);
  CHECK(read.estimates == pack.estimates);
}

TEST_CASE("wear-out in a pack without records is judgement of shape and scale") {
  const PriorPack pack = documents::read_prior_pack(
      parse_json(R"({"format": "faultodds-priors/1", "id": "plain", "title": "From the maker",
        "modes": [{"type": "valve", "mode": "bore_wear", "grades": [0.9, 0.06, 0.04],
                   "wear_out": {"shape": 2, "scale": "12000 h", "failed_share": 0.4}}]})"),
      20);
  const Judgement& judgement = pack.judgements.at({"valve", "bore_wear", ""});
  CHECK(judgement.source == "From the maker");
  REQUIRE(judgement.wear_out);
  REQUIRE(judgement.wear_out->shape);
  REQUIRE(judgement.wear_out->scale);
  CHECK(judgement.wear_out->shape->median == 2);
  CHECK(judgement.wear_out->scale->median == Approx(12000).epsilon(1e-12));
}

TEST_CASE(
    "leak rates of a flow test stay shares of rated flow in a pack that is written and read") {
  circuit::OutcomeModel shares;
  shares.leak_median = {0.01, 0.08, 0.3};
  shares.leak_sigma = {0.5, 0.5, 0.4};
  PriorPack pack = learned("north", 0, 60);
  pack.outcomes = {{"", circuit::ObservationKind::flow, shares}};
  const documents::Json document = parse_json(documents::write_prior_pack(pack));
  CHECK(document.at("outcomes")[0].at("leak_rates").at("median") ==
        documents::Json({0.01, 0.08, 0.3}));
  const PriorPack read = documents::read_prior_pack(document);
  REQUIRE(read.outcomes.size() == 1);
  CHECK(read.outcomes[0].model.leak_median == shares.leak_median);
}

TEST_CASE("outcome statistics stay in a pack that is written and read") {
  circuit::OutcomeModel sharper;
  sharper.outcomes = {"held", "bled_down", "would_not_build"};
  sharper.matrix = {{0.98, 0.015, 0.005}, {0.05, 0.9, 0.05}, {0.01, 0.09, 0.9}};
  sharper.background = circuit::GradeDistribution{0.99, 0.007, 0.003};
  sharper.leak_median = {0.3, 25, 850};
  sharper.leak_sigma = {1.1, 0.9, 0.8};
  PriorPack pack = learned("north", 0, 60);
  pack.outcomes = {{"", circuit::ObservationKind::static_hold, sharper}};
  const PriorPack read = documents::read_prior_pack(parse_json(documents::write_prior_pack(pack)));
  REQUIRE(read.outcomes.size() == 1);
  const circuit::OutcomeModel& model = read.outcomes[0].model;
  CHECK(read.outcomes[0].kind == circuit::ObservationKind::static_hold);
  CHECK(model.outcomes == sharper.outcomes);
  CHECK(model.matrix == sharper.matrix);
  CHECK(model.background == sharper.background);
  CHECK(model.leak_sigma == sharper.leak_sigma);
  REQUIRE(model.leak_median.has_value());
  for (std::size_t g = 0; g < 3; ++g) {
    CHECK((*model.leak_median)[g] == Approx((*sharper.leak_median)[g]).epsilon(1e-12));
  }
}

TEST_CASE("packs merged from their documents equal the pooled pack, byte for byte in the entries") {
  const auto reread = [](const PriorPack& pack) {
    return documents::read_prior_pack(parse_json(documents::write_prior_pack(pack)));
  };
  const PriorPack merged = merge(reread(learned("north", 0, 60)), reread(learned("south", 60, 45)));
  PriorPack pooled = learned("both", 0, 105);
  pooled.statistics.types.at({"valve", "rear"}).add([] {
    // The exposure row stands once in each depot's file.
    TypeStatistics again;
    again.in_service = 7;
    again.centihours = 123456;
    again.running.add(800, 7);
    return again;
  }());
  estimate(pooled);
  CHECK(merged.estimates == pooled.estimates);
}

TEST_CASE("the engine reads a learned pack as any other") {
  const PriorPack pack = learned("north", 0, 60);
  const diagnosis::Pack engine =
      documents::read_pack(parse_json(documents::write_prior_pack(pack)));
  REQUIRE(engine.priors.size() == pack.estimates.size());
  const diagnosis::Pack direct = diagnosis_pack(pack);
  for (std::size_t i = 0; i < engine.priors.size(); ++i) {
    CHECK(engine.priors[i].type == direct.priors[i].type);
    CHECK(engine.priors[i].asset_class == direct.priors[i].asset_class);
    CHECK(engine.priors[i].grades == direct.priors[i].grades);
    CHECK(engine.priors[i].wear_out.has_value() == direct.priors[i].wear_out.has_value());
  }
}

TEST_CASE("a pack without records is judgement worth so many jobs") {
  const PriorPack pack = documents::read_prior_pack(
      parse_json(R"({"format":"faultodds-priors/1","id":"shipped","modes":[
        {"type":"valve","mode":"bore_wear","grades":[0.9,0.08,0.02]}]})"),
      40);
  CHECK(pack.judgements.at({"valve", "bore_wear", ""}).grades.alpha[0] == Approx(36));
  CHECK(pack.estimates.at({"valve", "bore_wear", ""}).mean[1] == Approx(0.08));
}

TEST_CASE("a learned pack that makes no sense is refused at its place") {
  const auto refused = [](const std::string& learning, const std::string& pointer) {
    const std::string text =
        R"({"format":"faultodds-priors/1","id":"x","learning":)" + learning + "}";
    try {
      documents::read_prior_pack(parse_json(text));
      FAIL_CHECK("expected a refusal at " << pointer);
    } catch (const Error& error) {
      CHECK(error.pointer() == pointer);
    }
  };
  refused("[]", "/learning");
  refused(
      R"({"judgements":[],"sources":[],"settings":{},"statistics":[{"type":"v","orders":1.5}]})",
      "/learning/statistics/0/orders");
  refused(
      R"({"judgements":[],"sources":[],"settings":{},"statistics":[{"type":"v","first":"2023-02-30"}]})",
      "/learning/statistics/0/first");
  refused(
      R"({"judgements":[{"type":"v","mode":"m","alpha":[1,2]}],"sources":[],"settings":{},"statistics":[]})",
      "/learning/judgements/0/alpha");
  refused(R"({"judgements":[],"sources":[],"settings":{},"statistics":[{"type":"v","modes":[
          {"mode":"m","between":[[5,2,1]]}]}]})",
          "/learning/statistics/0/modes/0/between/0");
  refused(R"({"judgements":[],"sources":[],"settings":{},"statistics":[{"type":"v","ambiguous":[
          {"modes":["m"],"worn":1}]}]})",
          "/learning/statistics/0/ambiguous/0");
  refused(
      R"({"judgements":[],"sources":[],"settings":{},"statistics":[{"type":"v"},{"type":"v"}]})",
      "/learning/statistics/1");
  refused(R"({"judgements":[{"type":"v","mode":"m","alpha":[1,2,3]},
          {"type":"v","mode":"m","alpha":[1,2,3]}],"sources":[],"settings":{},"statistics":[]})",
          "/learning/judgements/1");
  refused(R"({"judgements":[{"type":"v","mode":"m","alpha":[1,2,3],
          "wear_out":{"scale_hours":{"median":0,"sigma":1}}}],"sources":[],"settings":{},"statistics":[]})",
          "/learning/judgements/0/wear_out/scale_hours/median");
}

TEST_CASE("a records mapping is read in the owner's words") {
  const documents::RecordsMapping read = documents::read_records_mapping(parse_json(R"({
    "format": "faultodds-records/1", "delimiter": ";", "decimal_comma": true,
    "dates": "day_month_year", "columns": {"work_order": "Auftrag"},
    "types": {"DBV": "port_relief"},
    "findings": {"undicht": "seat_leak", "getauscht": ["*"], "i.O.": []},
    "grades": {"defekt": "failed"}, "classes": {"HL": "rear loader"},
    "latest": "2024-12-31", "others_sound": false})"));
  CHECK(read.mapping.delimiter == ';');
  CHECK(read.mapping.decimal_comma == true);
  CHECK(read.mapping.dates == DateOrder::day_month_year);
  CHECK(read.mapping.columns.at("work_order") == "Auftrag");
  CHECK(read.mapping.findings.at("undicht") == std::vector<std::string>{"seat_leak"});
  CHECK(read.mapping.findings.at("i.O.").empty());
  CHECK(read.mapping.grades.at("defekt") == 2);
  CHECK(read.mapping.latest == make_date(2024, 12, 31));
  CHECK_FALSE(read.others_sound);
  const documents::RecordsMapping month_first = documents::read_records_mapping(
      parse_json(R"({"format": "faultodds-records/1", "dates": "month_day_year"})"));
  CHECK(month_first.mapping.dates == DateOrder::month_day_year);
}

TEST_CASE("a records mapping that makes no sense is refused at its place") {
  const auto refused = [](const std::string& members, const std::string& pointer) {
    try {
      documents::read_records_mapping(
          parse_json(R"({"format":"faultodds-records/1",)" + members + "}"));
      FAIL_CHECK("expected a refusal at " << pointer);
    } catch (const Error& error) {
      CHECK(error.pointer() == pointer);
    }
  };
  refused(R"("delimiter":"::")", "/delimiter");
  refused(R"("dates":"year first")", "/dates");
  refused(R"("grades":{"bad":"broken"})", "/grades/bad");
  refused(R"("latest":"soon")", "/latest");
  refused(R"("columns":["a"])", "/columns");
}

}  // namespace priors_documents
