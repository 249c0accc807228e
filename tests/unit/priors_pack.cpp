#include <catch2/catch.hpp>
#include <random>
#include <string>

#include "core/error.h"
#include "priors/pack.h"

namespace priors_pack {

using namespace faultodds;
using namespace faultodds::priors;
using Catch::Contains;

namespace {

const Vocabulary& vocabulary() {
  static const Vocabulary v{
      {{"valve", {{"bore_wear", "INL"}, {"seat_leak", "INL"}}}, {"cylinder", {{"seal", "ELU"}}}}};
  return v;
}

PriorPack pack_of(const Statistics& statistics, const std::string& source = "depot") {
  PriorPack pack;
  pack.id = "test";
  pack.judgements[{"valve", "bore_wear", ""}] = {{{18, 1.5, 0.5}}, {}, "judgement"};
  pack.judgements[{"valve", "seat_leak", ""}] = {{{9, 0.5, 0.5}}, {}, "judgement"};
  pack.judgements[{"cylinder", "seal", ""}] = {{{19, 0.5, 0.5}}, {}, "judgement"};
  pack.sources = {{source, "closed orders", 0, 0, {}, {}}};
  pack.statistics = statistics;
  estimate(pack);
  return pack;
}

Statistics read(const std::string& rows, const std::string& exposure = "") {
  Tally tally(vocabulary());
  const ReadSummary summary = read_work_orders(
      text_source("work_order,closed,component,finding,grade,hours,asset_class\n" + rows), {},
      vocabulary(), {}, [&](const WorkOrder& order) { tally.add(order); });
  REQUIRE(summary.rejected_rows() == 0);
  if (!exposure.empty()) {
    read_exposure(text_source("component,in_service,hours,age,asset_class\n" + exposure), {},
                  vocabulary(), {}, [&](const Exposure& e) { tally.add(e); });
  }
  return tally.statistics();
}

// A fleet's closed orders drawn from a seed: two classes that differ, some causes not told apart.
std::string orders(unsigned seed, int first, int count) {
  std::mt19937 random(seed);
  const auto chance = [&](double p) { return static_cast<double>(random()) < p * 4294967296.0; };
  std::string rows;
  for (int i = first; i < first + count; ++i) {
    const bool front = chance(0.5);
    const char* finding = chance(front ? 0.3 : 0.1) ? "bore_wear"
                          : chance(0.2)             ? "seat_leak"
                                                    : "none";
    const bool sound = std::string(finding) == "none";
    if (!sound && chance(0.4)) finding = "UNK";
    rows.append(std::to_string(i)).append(",2023-01-").append(std::to_string(1 + i % 28));
    rows.append(",valve,").append(finding).append(",");
    rows.append(sound ? "" : chance(0.5) ? "worn" : chance(0.5) ? "failed" : "").append(",");
    rows.append(std::to_string(100 + random() % 9000)).append(front ? ",front\n" : ",rear\n");
  }
  return rows;
}

}  // namespace

TEST_CASE("without records a pack says what was judged") {
  const PriorPack pack = pack_of({});
  const Estimate& bore = pack.estimates.at({"valve", "bore_wear", ""});
  CHECK(bore.mean[0] == Approx(0.9));
  CHECK(bore.not_sound_interval == Beta{2, 18}.interval());
  CHECK(bore.method == "judgement worth 20 jobs");
  CHECK(bore.jobs() == 0);
  CHECK_FALSE(bore.rate.has_value());
  CHECK_FALSE(bore.wear_out.has_value());
}

TEST_CASE("records move judgement by their number, and the entry keeps where it comes from") {
  const PriorPack pack =
      pack_of(read("1,2023-03-01,valve,bore_wear,worn,,\n"
                   "2,2023-01-01,valve,bore_wear,failed,,\n"
                   "3,2023-02-01,valve,none,,,\n"));
  const Estimate& bore = pack.estimates.at({"valve", "bore_wear", ""});
  CHECK(bore.posterior == Dirichlet{{19, 2.5, 1.5}});
  CHECK(bore.counts == std::array<double, 3>{1, 1, 1});
  CHECK(bore.not_sound == Approx(4.0 / 23));
  CHECK(bore.shrinkage == Approx(20.0 / 23));
  CHECK(bore.first == make_date(2023, 1, 1));
  CHECK(bore.last == make_date(2023, 3, 1));
  CHECK(bore.method == "judgement worth 20 jobs and 3 jobs");
}

TEST_CASE(
    "faults alone tell how the modes of a type compare, and how often it fails stays judged") {
  std::string rows;
  for (int i = 0; i < 200; ++i) {
    rows += std::to_string(i) + ",2023-03-01,valve," + (i % 4 == 0 ? "bore_wear" : "seat_leak") +
            ",worn,,\n";
  }
  for (int i = 200; i < 300; ++i) {
    rows += std::to_string(i) + ",2023-03-01,cylinder,seal,failed,,\n";
  }
  const PriorPack judged = pack_of({}), pack = pack_of(read(rows));
  const auto odds = [](const PriorPack& of, const char* type, const char* mode) {
    const double p = of.estimates.at({type, mode, ""}).not_sound;
    return p / (1 - p);
  };
  // Judged alike; the orders say 1 to 3.
  CHECK(odds(pack, "valve", "bore_wear") < 0.6 * odds(pack, "valve", "seat_leak"));
  const auto level = [&](const PriorPack& of) {
    return std::log(odds(of, "valve", "bore_wear") * odds(of, "valve", "seat_leak"));
  };
  CHECK(level(pack) == Approx(level(judged)).margin(0.5));
  // The only mode of its type has nothing to compare with.
  CHECK(odds(pack, "cylinder", "seal") == Approx(odds(judged, "cylinder", "seal")).epsilon(0.1));
  const Estimate& seal = pack.estimates.at({"cylinder", "seal", ""});
  CHECK(seal.posterior.weight() < 1.1 * seal.prior.weight());
  CHECK(seal.counts == std::array<double, 3>{0, 0, 100});
}

TEST_CASE("a finding without a grade is split as the graded ones are") {
  const PriorPack pack =
      pack_of(read("1,2023-03-01,valve,bore_wear,,,\n"
                   "2,2023-01-01,valve,bore_wear,,,\n"));
  const Estimate& bore = pack.estimates.at({"valve", "bore_wear", ""});
  // Judgement says 3 worn to 1 failed, and nothing graded says otherwise.
  CHECK(bore.counts[1] == Approx(1.5));
  CHECK(bore.counts[2] == Approx(0.5));
}

TEST_CASE("ambiguous causes are shared out by what the clear ones show") {
  // 8,000 components with 40 % of the causes not told apart: counting the clear ones alone is far
  // off, sharing out recovers the truth.
  std::mt19937 random(7);
  const auto chance = [&](double p) { return static_cast<double>(random()) < p * 4294967296.0; };
  Tally tally(vocabulary());
  const std::uint32_t bore[] = {0}, seat[] = {1}, either[] = {0, 1};
  int bores = 0, seats = 0, total = 8000;
  for (int i = 0; i < total; ++i) {
    WorkOrder order;
    const bool is_bore = chance(0.15);
    const bool is_seat = !is_bore && chance(0.06);
    bores += is_bore ? 1 : 0;
    seats += is_seat ? 1 : 0;
    if (is_bore || is_seat) {
      order.grade = 2;
      if (chance(0.4)) {
        order.modes = either;
      } else if (is_bore) {
        order.modes = bore;
      } else {
        order.modes = seat;
      }
    }
    tally.add(order);
  }
  const PriorPack pack = pack_of(tally.statistics());
  const auto within = [&](const char* mode, int truth) {
    const Estimate& e = pack.estimates.at({"valve", mode, ""});
    const double share = static_cast<double>(truth) / total;
    return e.not_sound_interval.lower < share && share < e.not_sound_interval.upper;
  };
  CHECK(within("bore_wear", bores));
  CHECK(within("seat_leak", seats));
  const ModeStatistics& clear = pack.statistics.types.at({"valve", ""}).modes.at("bore_wear");
  const Interval naive = estimate_probability(static_cast<double>(clear.failed), total).interval;
  CHECK(naive.upper < static_cast<double>(bores) / total * 0.8);
  // Some of the records' worth is lost, and said to be.
  const Estimate& e = pack.estimates.at({"valve", "bore_wear", ""});
  CHECK(e.information < 1);
  CHECK(e.information > 0.5);
  CHECK_THAT(e.method, Contains("ambiguous"));
}

TEST_CASE("where no record tells two causes apart, judgement shares them out and stays wide") {
  std::string rows;
  for (int i = 0; i < 400; ++i) {
    rows.append(std::to_string(i))
        .append(i % 2 == 0 ? ",2023-01-01,valve,UNK,failed,,\n" : ",2023-01-01,valve,none,,,\n");
  }
  const PriorPack pack = pack_of(read(rows));
  const Estimate& bore = pack.estimates.at({"valve", "bore_wear", ""});
  const Estimate& seat = pack.estimates.at({"valve", "seat_leak", ""});
  // Half of the valves were sound in both: that is certain, who is to blame is not.
  CHECK((1 - bore.not_sound) * (1 - seat.not_sound) == Approx(0.5).epsilon(0.05));
  CHECK(bore.counts[2] + seat.counts[2] >= 200);
  CHECK(bore.information < 0.2);
  const double width = bore.not_sound_interval.upper - bore.not_sound_interval.lower;
  const Interval told = estimate_probability(bore.counts[2], 400).interval;
  CHECK(width > 2 * (told.upper - told.lower));
}

TEST_CASE("merging the packs of two depots is learning from their pooled records, bit for bit") {
  const std::string north = orders(1, 0, 900), south = orders(2, 900, 700);
  const std::string north_exposure = "valve,40,12000.55,3000,front\n";
  const std::string south_exposure = "valve,25,8000.1,2500,front\nvalve,9,7.77,100,rear\n";
  const PriorPack first = pack_of(read(north, north_exposure), "north");
  const PriorPack second = pack_of(read(south, south_exposure), "south");
  const PriorPack pooled = pack_of(read(north + south, north_exposure + south_exposure));
  const PriorPack merged = merge(first, second);
  CHECK(merged.statistics == pooled.statistics);
  CHECK(merged.estimates == pooled.estimates);
  CHECK(merge(second, first).estimates == pooled.estimates);
  CHECK_FALSE(first.estimates == pooled.estimates);
  CHECK(merged.sources.size() == 2);
}

TEST_CASE("packs that cannot be merged say why") {
  const PriorPack pack = pack_of({}, "north");
  CHECK_THROWS_WITH(merge(pack, pack), Contains("source north is in both"));
  PriorPack other = pack_of({}, "south");
  other.judgements.begin()->second.grades.alpha[0] += 1;
  CHECK_THROWS_WITH(merge(pack, other), Contains("judge cylinder.seal differently"));
  other = pack_of({}, "south");
  other.judgements[{"valve", "bore_wear", "front"}] = other.judgements.begin()->second;
  CHECK_THROWS_WITH(merge(pack, other), Contains("bore_wear of front"));
  other = pack_of({}, "south");
  other.settings.pool_classes = false;
  CHECK_THROWS_WITH(merge(pack, other), Contains("settings"));
  other = pack_of({}, "south");
  other.outcomes.push_back({});
  CHECK_THROWS_WITH(merge(pack, other), Contains("outcome statistics"));
}

TEST_CASE("classes that differ keep their own value, drawn to the others by how little they have") {
  std::string rows;
  int id = 0;
  const auto add = [&](const char* asset_class, int bad, int good) {
    for (int i = 0; i < bad + good; ++i) {
      rows.append(std::to_string(id++)).append(",2023-01-01,cylinder,");
      rows.append(i < bad ? "seal,failed,," : "none,,,").append(asset_class).append("\n");
    }
  };
  add("front", 120, 280);
  add("rear", 10, 390);
  add("side", 2, 4);
  const PriorPack pack = pack_of(read(rows));
  const Estimate& front = pack.estimates.at({"cylinder", "seal", "front"});
  const Estimate& side = pack.estimates.at({"cylinder", "seal", "side"});
  CHECK(front.not_sound == Approx(0.3).epsilon(0.05));
  CHECK(front.shrinkage < 0.05);
  CHECK(side.shrinkage > 0.3);
  CHECK(side.not_sound < 2.0 / 6);
  CHECK(side.not_sound > pack.estimates.at({"cylinder", "seal", ""}).not_sound);
  CHECK_THAT(side.method, Contains("empirical Bayes, 6 jobs own"));
  PriorPack apart = pack;
  apart.settings.pool_classes = false;
  estimate(apart);
  CHECK(apart.estimates.at({"cylinder", "seal", "side"}).not_sound == Approx(3.0 / 26));
}

TEST_CASE("classes that do not differ share one value") {
  std::string rows;
  for (int i = 0; i < 400; ++i) {
    rows.append(std::to_string(i)).append(",2023-01-01,cylinder,");
    rows.append(i % 20 == 0 || i % 20 == 1 ? "seal,failed,," : "none,,,");
    rows.append(i % 2 == 0 ? "front\n" : "rear\n");
  }
  const PriorPack pack = pack_of(read(rows));
  const Estimate& front = pack.estimates.at({"cylinder", "seal", "front"});
  CHECK_THAT(front.method, Contains("no spread"));
  CHECK(front.not_sound == pack.estimates.at({"cylinder", "seal", ""}).not_sound);
  CHECK(front.jobs() == 200);
}

TEST_CASE("hours on the orders and ages in service give a wear-out model and a rate") {
  // The failures of NIST/SEMATECH 8.4.1.3 as work orders, ten more running at 500 h.
  std::string rows;
  int id = 0;
  for (int hours : {54, 187, 216, 240, 244, 335, 361, 373, 375, 386}) {
    rows.append(std::to_string(id++)).append(",2023-01-01,cylinder,seal,failed,");
    rows.append(std::to_string(hours)).append(",\n");
  }
  const PriorPack pack = pack_of(read(rows, "cylinder,10,7771,500,\n"));
  const Estimate& seal = pack.estimates.at({"cylinder", "seal", ""});
  REQUIRE(seal.wear_out.has_value());
  CHECK(seal.wear_out->failures == 10);
  CHECK(seal.wear_out->lives == 20);
  // The likelihood's maximum is 1.7208 and 606.5 h; judgement of the shape draws it a little.
  CHECK(seal.wear_out->weibull.shape == Approx(1.7208).epsilon(0.05));
  CHECK(seal.wear_out->weibull.scale == Approx(606.5).epsilon(0.03));
  CHECK(seal.wear_out->shape_interval.lower < 1.7208);
  CHECK(seal.wear_out->shape_interval.upper > 1.7208);
  REQUIRE(seal.rate.has_value());
  CHECK(*seal.rate == Gamma{10.5, 7771});
  const diagnosis::Pack engine = diagnosis_pack(pack);
  const auto entry = std::find_if(engine.priors.begin(), engine.priors.end(),
                                  [](const auto& prior) { return prior.mode == "seal"; });
  REQUIRE(entry != engine.priors.end());
  REQUIRE(entry->wear_out.has_value());
  CHECK(entry->wear_out->scale_hours == seal.wear_out->weibull.scale);
  CHECK(entry->wear_out->failed_share > 0.6);
}

TEST_CASE("too few failures give no wear-out model") {
  const PriorPack pack =
      pack_of(read("1,2023-01-01,cylinder,seal,failed,300,\n", "cylinder,10,7771,500,\n"));
  CHECK_FALSE(pack.estimates.at({"cylinder", "seal", ""}).wear_out.has_value());
}

TEST_CASE("the difference of two packs says what changed, on how many jobs and how sure") {
  std::string rows;
  for (int i = 0; i < 100; ++i) {
    rows.append(std::to_string(i)).append(",2023-01-01,cylinder,");
    rows.append(i < 30 ? "seal,failed,,\n" : "none,,,\n");
  }
  const PriorPack before = pack_of({}), after = pack_of(read(rows));
  const std::vector<Change> changes = difference(before, after);
  REQUIRE(changes.size() == 1);
  const Change& change = changes[0];
  CHECK(change.key == PackKey{"cylinder", "seal", ""});
  CHECK(change.before == Approx(0.05));
  CHECK(change.after == Approx(31.0 / 120));
  CHECK(change.jobs_before == 0);
  CHECK(change.jobs_after == 100);
  CHECK(change.decibans == Approx(10 * std::log10((31.0 / 89) / (1.0 / 19))));
  CHECK(change.sure > 0.999);
  const std::vector<Change> back = difference(after, before);
  CHECK(back[0].decibans == Approx(-change.decibans));
  CHECK(back[0].sure > 0.5);
  CHECK(difference(after, after).empty());
}

TEST_CASE("an entry only one pack has is listed before those that moved") {
  const PriorPack before = pack_of({});
  const PriorPack after = pack_of(read("1,2023-01-01,cylinder,seal,failed,,front\n"));
  const std::vector<Change> changes = difference(before, after);
  REQUIRE(changes.size() == 2);
  CHECK(changes[0].key.asset_class == "front");
  CHECK_FALSE(changes[0].before.has_value());
}

TEST_CASE("the engine's pack has every entry with grades that sum to one") {
  const PriorPack pack = pack_of(read(orders(3, 0, 500)));
  const diagnosis::Pack engine = diagnosis_pack(pack);
  CHECK(engine.priors.size() == pack.estimates.size());
  for (const diagnosis::PackPrior& prior : engine.priors) {
    REQUIRE(prior.grades.has_value());
    CHECK((*prior.grades)[0] + (*prior.grades)[1] + (*prior.grades)[2] == Approx(1));
  }
}

TEST_CASE("the catalogue's own judgement is worth the jobs it is said to be") {
  circuit::ComponentType type;
  type.name = "check";
  circuit::FailureModeType mode;
  mode.name = "seat_leak";
  mode.prior = {0.93, 0.07, 0};
  type.failure_modes.push_back(mode);
  const auto judgements = judgements_of({type}, 20, "shipped");
  CHECK(judgements.at({"check", "seat_leak", ""}).grades.alpha[0] == Approx(18.6));
  CHECK(judgements.at({"check", "seat_leak", ""}).grades.alpha[2] == 1e-3);
  CHECK_THROWS_WITH(judgements_of({type}, 0, "shipped"), Contains("worth"));
}

TEST_CASE("a judgement without three grades is refused by name") {
  PriorPack pack;
  pack.judgements[{"valve", "bore_wear", ""}] = {{{1, 2}}, {}, ""};
  CHECK_THROWS_WITH(estimate(pack), Contains("valve.bore_wear"));
}

}  // namespace priors_pack
