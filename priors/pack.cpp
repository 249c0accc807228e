#include "priors/pack.h"

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "core/error.h"
#include "core/number_text.h"
#include "priors/levels.h"
#include "priors/maximise.h"
#include "priors/misbooking.h"
#include "priors/pooling.h"

namespace faultodds::priors {
namespace {

[[noreturn]] void refuse(const std::string& message) { throw Error(Code::invalid_priors, message); }

// Grades of one mode while the ambiguous orders are being shared out.
struct ModeCounts {
  std::string mode;
  Dirichlet prior;
  std::array<double, 3> certain{};  // counted
  double ungraded = 0;
  std::array<double, 3> counts{};                // expected
  std::optional<std::array<double, 3>> found{};  // the same before they were levelled
  double information = 1;
  std::string counted;  // how, where they are not of parts as they are

  std::array<double, 3> share() const {
    const double total = prior.weight() + counts[0] + counts[1] + counts[2];
    return {(prior.alpha[0] + counts[0]) / total, (prior.alpha[1] + counts[1]) / total,
            (prior.alpha[2] + counts[2]) / total};
  }
  double jobs() const { return counts[0] + counts[1] + counts[2]; }
};

// Orders that name several modes: at least one of them was not sound, the worst of them as graded.
struct AmbiguousOrders {
  std::vector<std::size_t> modes;
  std::array<double, 3> orders{};  // worn, failed, ungraded
};

// Of one such order with that grade (0 worn, 1 failed, 2 not recorded), what is expected of its
// candidates given their grade probabilities, modes being independent before the order was read.
struct Expected {
  std::vector<double> worn, failed;            // probability of each
  std::vector<std::vector<double>> not_sound;  // of each pair, both; on the diagonal of one
};

Expected expect(const AmbiguousOrders& set, std::size_t grade,
                const std::vector<std::array<double, 3>>& shares, bool pairs) {
  const std::size_t n = set.modes.size();
  const auto of = [&](std::size_t i) -> const std::array<double, 3>& {
    return shares[set.modes[i]];
  };
  // Probability that no other candidate has failed.
  const auto none_failed = [&](std::size_t but, std::size_t and_but) {
    double product = 1;
    for (std::size_t k = 0; k < n; ++k) {
      if (k != but && k != and_but) product *= 1 - of(k)[2];
    }
    return product;
  };
  double all_sound = 1;
  for (std::size_t i = 0; i < n; ++i) all_sound *= of(i)[0];
  const double total = grade == 0   ? none_failed(n, n) - all_sound
                       : grade == 1 ? 1 - none_failed(n, n)
                                    : 1 - all_sound;
  Expected expected;
  for (std::size_t i = 0; i < n; ++i) {
    const double others = none_failed(i, i);
    expected.worn.push_back(of(i)[1] * (grade == 0 ? others : grade == 1 ? 1 - others : 1) / total);
    expected.failed.push_back(grade == 0 ? 0 : of(i)[2] / total);
  }
  if (!pairs) return expected;
  expected.not_sound.assign(n, std::vector<double>(n, 0));
  for (std::size_t i = 0; i < n; ++i) {
    expected.not_sound[i][i] = expected.worn[i] + expected.failed[i];
    for (std::size_t j = 0; j < i; ++j) {
      const double both_worn = of(i)[1] * of(j)[1] * none_failed(i, j);
      const double both_bad = (of(i)[1] + of(i)[2]) * (of(j)[1] + of(j)[2]);
      const double both = grade == 0 ? both_worn : grade == 1 ? both_bad - both_worn : both_bad;
      expected.not_sound[i][j] = expected.not_sound[j][i] = both / total;
    }
  }
  return expected;
}

// Expectation-maximisation over the orders whose cause is one of several. What is lost to ambiguity
// is measured by Louis' observed information (1982), in the log odds of not sound.
void share_out(std::vector<ModeCounts>& modes, const std::vector<AmbiguousOrders>& ambiguous) {
  std::vector<std::array<double, 3>> shares;
  const auto update_shares = [&] {
    shares.clear();
    for (const ModeCounts& mode : modes) shares.push_back(mode.share());
  };
  for (int iteration = 0; iteration < 20'000; ++iteration) {
    update_shares();
    std::vector<std::array<double, 3>> expected;
    for (std::size_t m = 0; m < modes.size(); ++m) {
      expected.push_back(modes[m].certain);
      const double not_sound = shares[m][1] + shares[m][2];
      expected[m][1] += modes[m].ungraded * shares[m][1] / not_sound;
      expected[m][2] += modes[m].ungraded * shares[m][2] / not_sound;
    }
    for (const AmbiguousOrders& set : ambiguous) {
      for (std::size_t grade = 0; grade < 3; ++grade) {
        if (!(set.orders[grade] > 0)) continue;
        const Expected of = expect(set, grade, shares, false);
        for (std::size_t i = 0; i < set.modes.size(); ++i) {
          std::array<double, 3>& to = expected[set.modes[i]];
          to[0] += set.orders[grade] * (1 - of.worn[i] - of.failed[i]);
          to[1] += set.orders[grade] * of.worn[i];
          to[2] += set.orders[grade] * of.failed[i];
        }
      }
    }
    double change = 0;
    for (std::size_t m = 0; m < modes.size(); ++m) {
      for (std::size_t g = 0; g < 3; ++g) {
        change =
            std::max(change, std::abs(expected[m][g] - modes[m].counts[g]) / (1 + expected[m][g]));
      }
      modes[m].counts = expected[m];
    }
    if (change < 1e-12) break;
  }
  if (ambiguous.empty()) return;
  update_shares();
  std::vector<std::vector<double>> observed(modes.size(), std::vector<double>(modes.size(), 0));
  std::vector<double> spread;  // p (1 - p) of not sound
  for (std::size_t m = 0; m < modes.size(); ++m) {
    spread.push_back(shares[m][0] * (1 - shares[m][0]));
    observed[m][m] = (modes[m].prior.weight() + modes[m].jobs()) * spread[m];
  }
  for (const AmbiguousOrders& set : ambiguous) {
    for (std::size_t grade = 0; grade < 3; ++grade) {
      if (!(set.orders[grade] > 0)) continue;
      const std::vector<std::vector<double>> pair = expect(set, grade, shares, true).not_sound;
      for (std::size_t i = 0; i < set.modes.size(); ++i) {
        for (std::size_t j = 0; j < set.modes.size(); ++j) {
          observed[set.modes[i]][set.modes[j]] -=
              set.orders[grade] * (pair[i][j] - pair[i][i] * pair[j][j]);
        }
      }
    }
  }
  const std::vector<double> variance = inverse_diagonal(observed);
  for (std::size_t m = 0; m < modes.size(); ++m) {
    const double jobs = modes[m].jobs();
    if (!(jobs > 0)) continue;
    const double worth =
        variance.empty() ? 0 : 1 / (variance[m] * spread[m]) - modes[m].prior.weight();
    modes[m].information = std::clamp(worth / jobs, 0.0, 1.0);
  }
}

std::vector<double> grades_of(const std::array<double, 3>& counts, double times) {
  return {counts[0] * times, counts[1] * times, counts[2] * times};
}

Dirichlet updated(const Dirichlet& prior, const std::array<double, 3>& counts, double times) {
  return estimate_shares(grades_of(counts, times), prior).posterior;
}

void describe(Estimate& estimate) {
  for (std::size_t g = 0; g < 3; ++g) {
    estimate.mean[g] = estimate.posterior.mean(g);
    estimate.interval[g] = estimate.posterior.marginal(g).interval();
  }
  const Beta sound = estimate.posterior.marginal(0);
  const Beta not_sound{sound.beta, sound.alpha};
  estimate.not_sound = not_sound.mean();
  estimate.not_sound_interval = not_sound.interval();
}

std::optional<WearOutEstimate> fit_wear_out(const std::vector<Life>& lives,
                                            const Judgement& judgement,
                                            const PackSettings& settings, double failed_share) {
  double failures = 0, sound = 0, total = 0;
  for (const Life& life : lives) {
    (std::isinf(life.upper) ? sound : failures) += life.count;
    total += life.count;
  }
  // Ages of failures alone say nothing of how many lived longer.
  if (!(failures >= settings.fewest_failures) || !(sound > 0)) return std::nullopt;
  try {
    WeibullPrior prior = judgement.wear_out.value_or(WeibullPrior{});
    WeibullPosterior posterior(lives, prior);
    WearOutEstimate estimate;
    // Of the Weibull, whichever is taken.
    estimate.shape_interval = posterior.shape_interval();
    estimate.scale_interval = posterior.scale_interval();
    if (prior.shape) {
      const double sigma = prior.shape->sigma, z = std::log(prior.shape->median) / sigma;
      const double before = std::exp(-0.5 * z * z) / (sigma * std::sqrt(2 * std::acos(-1.0)));
      const double after = posterior.density_of_shape(1);
      estimate.weibull_odds = before / std::max(after, 1e-12 * before);
      if (*estimate.weibull_odds <= 1) {
        prior.shape = WeibullPrior::LogNormal{1, 1e-3};
        posterior = WeibullPosterior(lives, prior);
      }
    }
    const bool constant = estimate.weibull_odds && *estimate.weibull_odds <= 1;
    estimate.weibull = posterior.mode();
    if (constant) estimate.weibull.shape = 1;
    estimate.failed_share = failed_share;
    estimate.failures = failures;
    estimate.lives = total;
    return estimate;
  } catch (const Error& error) {
    // Lives that fix no Weibull leave the grades to stand alone; anything else is a defect.
    if (error.code() != Code::invalid_argument) throw;
    return std::nullopt;
  }
}

// A rate of its own, no hours of single parts being told.
WearOutEstimate constant_rate(const Gamma& rate, double failed_share, double failures) {
  WearOutEstimate estimate;
  const Interval per_hour = rate.interval();
  estimate.weibull = {1, 1 / rate.mean()};
  estimate.shape_interval = {1, 1};
  estimate.scale_interval = {1 / per_hour.upper, 1 / per_hour.lower};
  estimate.failed_share = failed_share;
  estimate.failures = failures;
  return estimate;
}

std::vector<Life> lives_of(const TypeStatistics& type, const std::string& mode) {
  std::vector<Life> lives;
  const auto found = type.modes.find(mode);
  if (found != type.modes.end()) lives = found->second.lives();
  for (const auto& [hours, count] : type.running.items()) {
    lives.push_back(Life::sound_at(hours, static_cast<double>(count)));
  }
  return lives;
}

Judgement judgement_of(const PriorPack& pack, const PackKey& key) {
  auto found = pack.judgements.find(key);
  if (found == pack.judgements.end()) {
    found = pack.judgements.find({key.type, key.mode, ""});
  }
  if (found != pack.judgements.end()) return found->second;
  return {jeffreys_shares(3), std::nullopt, "no judgement: Jeffreys prior"};
}

// Expected counts of every mode of one type in one class.
std::map<std::string, ModeCounts> count(const PriorPack& pack, const std::string& type,
                                        const std::string& asset_class,
                                        const std::set<std::string>& names,
                                        const TypeStatistics& statistics) {
  std::vector<ModeCounts> modes;
  std::map<std::string, std::size_t> place;
  for (const std::string& name : names) {
    ModeCounts counts;
    counts.mode = name;
    counts.prior = judgement_of(pack, {type, name, asset_class}).grades;
    const auto found = statistics.modes.find(name);
    if (found != statistics.modes.end()) {
      const ModeStatistics& mode = found->second;
      counts.certain = {static_cast<double>(mode.sound), static_cast<double>(mode.worn),
                        static_cast<double>(mode.failed)};
      counts.ungraded = static_cast<double>(mode.ungraded);
    }
    place[name] = modes.size();
    modes.push_back(std::move(counts));
  }
  std::vector<AmbiguousOrders> ambiguous;
  for (const auto& [candidates, orders] : statistics.ambiguous) {
    AmbiguousOrders set;
    for (const std::string& name : candidates.modes) set.modes.push_back(place.at(name));
    set.orders = {static_cast<double>(orders.worn), static_cast<double>(orders.failed),
                  static_cast<double>(orders.ungraded)};
    ambiguous.push_back(std::move(set));
  }
  share_out(modes, ambiguous);
  std::map<std::string, ModeCounts> result;
  for (ModeCounts& mode : modes) result.emplace(mode.mode, std::move(mode));
  return result;
}

std::string counted(double jobs) {
  return std::to_string(std::llround(jobs)) + (std::llround(jobs) == 1 ? " job" : " jobs");
}

void check(const PriorPack& pack) {
  for (const auto& [key, judgement] : pack.judgements) {
    const std::vector<double>& alpha = judgement.grades.alpha;
    if (alpha.size() != 3 || std::any_of(alpha.begin(), alpha.end(),
                                         [](double a) { return !(a > 0) || !std::isfinite(a); })) {
      refuse("judgement of " + key_name(key) +
             " must give sound, worn and failed each a worth above 0 jobs");
    }
  }
}

}  // namespace

std::string key_name(const PackKey& key) {
  std::string name = key.type + "." + key.mode;
  if (!key.asset_class.empty()) name += " of " + key.asset_class;
  return name;
}

std::map<PackKey, Judgement> judgements_of(const std::vector<circuit::ComponentType>& catalogue,
                                           double worth_jobs, const std::string& source) {
  if (!(worth_jobs > 0) || !std::isfinite(worth_jobs)) {
    refuse("worth of the catalogue's judgement is " + fixed_text(worth_jobs) +
           " jobs; expected a number above 0");
  }
  std::map<PackKey, Judgement> judgements;
  for (const circuit::ComponentType& type : catalogue) {
    for (const circuit::FailureModeType& mode : type.failure_modes) {
      Judgement judgement;
      for (double p : mode.prior) {
        judgement.grades.alpha.push_back(std::max(p * worth_jobs, 1e-3));
      }
      judgement.source = source;
      judgements[{type.name, mode.name, ""}] = std::move(judgement);
    }
  }
  return judgements;
}

namespace {

Estimate alone(const ModeCounts& counts, const Dirichlet& prior) {
  Estimate result;
  result.prior = prior;
  result.counts = counts.found.value_or(counts.counts);
  result.information = counts.information;
  result.posterior = updated(prior, counts.counts, counts.information);
  if (counts.found) {  // how severe faults are does not depend on the level
    auto& alpha = result.posterior.alpha;
    const double bad = alpha[1] + alpha[2], worn = prior.alpha[1] + result.counts[1];
    alpha[1] = bad * worn / (worn + prior.alpha[2] + result.counts[2]);
    alpha[2] = bad - alpha[1];
  }
  result.shrinkage = prior.weight() / result.posterior.weight();
  describe(result);
  return result;
}

// Adds an estimate with what is said of it beside its grades.
void finish(PriorPack& pack, const PackKey& key, Estimate result, const TypeStatistics& from) {
  const Judgement judgement = judgement_of(pack, key);
  result.source = judgement.source;
  result.first = from.first;
  result.last = from.last;
  if (from.centihours > 0) {
    result.hours = static_cast<double>(from.centihours) / 100;
    result.rate = estimate_rate(result.counts[1] + result.counts[2], *result.hours).posterior;
  }
  if (pack.settings.wear_out) {
    const double bad = result.posterior.alpha[1] + result.posterior.alpha[2];
    result.wear_out = fit_wear_out(lives_of(from, key.mode), judgement, pack.settings,
                                   result.posterior.alpha[2] / bad);
    const double faults = result.counts[1] + result.counts[2];
    if (!result.wear_out && result.rate && faults >= pack.settings.fewest_failures) {
      result.wear_out = constant_rate(*result.rate, result.posterior.alpha[2] / bad, faults);
    }
  }
  pack.estimates.emplace(key, std::move(result));
}

// What records say of one type, over all classes and by class.
struct TypeRecords {
  TypeStatistics every;
  std::map<std::string, ModeCounts> all;  // by mode
  std::map<std::string, std::map<std::string, ModeCounts>> by_class;
  std::map<std::string, const TypeStatistics*> statistics;  // by class
};

TypeRecords records_of(const PriorPack& pack, const std::string& type,
                       const std::set<std::string>& modes, const std::set<std::string>& classes) {
  TypeRecords records;
  static const TypeStatistics none;
  for (const std::string& asset_class : classes) {
    const auto found = pack.statistics.types.find({type, asset_class});
    const TypeStatistics& here = found == pack.statistics.types.end() ? none : found->second;
    records.statistics[asset_class] = &here;
    records.every.add(here);
    records.by_class[asset_class] = count(pack, type, asset_class, modes, here);
  }
  records.all = count(pack, type, "", modes, records.every);
  return records;
}

// How the counts of a type stand to parts as they are.
enum class Counted { parts, opened_on_complaint, by_exposure, faults_alone };

Counted counted_as(const TypeStatistics& type) {
  constexpr double few = 0.05;
  std::uint64_t faulty = 0;
  for (const auto& [unused, mode] : type.modes) faulty += mode.worn + mode.failed + mode.ungraded;
  for (const auto& [unused, counts] : type.ambiguous) {
    faulty += counts.worn + counts.failed + counts.ungraded;
  }
  const auto orders = static_cast<double>(type.orders);
  if (faulty > 0 && orders - static_cast<double>(faulty) <= few * orders) {
    return type.in_service > 0 ? Counted::by_exposure : Counted::faults_alone;
  }
  return 2 * type.complained > type.orders ? Counted::opened_on_complaint : Counted::parts;
}

// What faults of a type are counted against: hours where there are any, else parts, else orders.
double against(Counted how, const ModeCounts& counts, const TypeStatistics& from) {
  if (how == Counted::opened_on_complaint) return counts.counts[0];
  if (how == Counted::faults_alone) return static_cast<double>(from.orders);
  return from.centihours > 0 ? static_cast<double>(from.centihours) / 100
                             : static_cast<double>(from.in_service);
}

std::string_view said_of(Counted how) {
  return how == Counted::by_exposure    ? "faults by exposure, at the level judged of all modes"
         : how == Counted::faults_alone ? "faults alone, at the level judged of the type"
                                        : "opened on complaint, at the level judged of all modes";
}

// The counts of types that compare with each other, at the level that judgement of them all says.
void level_counts(const PriorPack& pack, Counted how,
                  const std::vector<std::pair<std::string, TypeRecords*>>& types) {
  std::vector<LevelCounts> all;
  for (const auto& [type, records] : types) {
    for (const auto& [mode, counts] : records->all) {
      const std::vector<double>& judged = judgement_of(pack, {type, mode, ""}).grades.alpha;
      all.push_back({counts.counts[1] + counts.counts[2], against(how, counts, records->every),
                     judged[1] + judged[2], judged[0]});
    }
  }
  Level level = common_level(all);
  std::vector<CountLeft> left(all.size());
  for (int turn = 0; turn < 4 && how == Counted::by_exposure; ++turn) {
    left = misbooked(all, level).modes;
    std::vector<LevelCounts> own = all;
    for (std::size_t i = 0; i < own.size(); ++i) own[i].faults *= left[i].right;
    level = common_level(own);
  }
  const auto at_level = [&](ModeCounts& counts, const TypeStatistics& from, const CountLeft& own) {
    const double compared = against(how, counts, from);
    if (!(compared > 0)) return;
    counts.found = counts.counts;
    counts.counts[0] = compared * std::exp(level.log_factor);
    for (std::size_t g = 1; g < 3; ++g) counts.counts[g] *= own.right;
    counts.information *= own.information;
    const double faults = counts.counts[1] + counts.counts[2];
    counts.information *= left_by(of_others(level, faults), faults * own.information,
                                  counts.counts[0] * own.information);
    counts.counted = said_of(how);
  };
  std::size_t next = 0;
  for (const auto& [type, records] : types) {
    const std::size_t first = next;
    for (auto& [unused, counts] : records->all) at_level(counts, records->every, left[next++]);
    for (auto& [asset_class, by_mode] : records->by_class) {
      next = first;
      for (auto& [unused, counts] : by_mode) {
        at_level(counts, *records->statistics.at(asset_class), left[next++]);
      }
    }
  }
}

void level_counts(const PriorPack& pack, std::map<std::string, TypeRecords>& types) {
  std::map<Counted, std::vector<std::pair<std::string, TypeRecords*>>> groups;
  for (auto& [type, records] : types) {
    const Counted how = counted_as(records.every);
    // How often parts of one type fail beside another's is not told by faults alone.
    if (how == Counted::faults_alone)
      level_counts(pack, how, {{type, &records}});
    else if (how != Counted::parts)
      groups[how].emplace_back(type, &records);
  }
  for (const auto& [how, group] : groups) level_counts(pack, how, group);
}

// What the classes of one mode have in common, where two or more have records.
struct Pool {
  std::size_t with_records = 0;
  std::optional<PooledProbabilities> probabilities;
};

Pool pool_of(const PriorPack& pack, const PackKey& key, const TypeRecords& records) {
  // Judgement enters the pooling as one more class, worth the jobs it is said to be worth.
  Pool pool;
  std::vector<ClassCounts> classes;
  const Dirichlet judged = judgement_of(pack, key).grades;
  classes.push_back({"", judged.alpha[1] + judged.alpha[2], judged.weight()});
  for (const auto& [asset_class, counts] : records.by_class) {
    const ModeCounts& here = counts.at(key.mode);
    const double bad = here.counts[1] + here.counts[2];
    classes.push_back(
        {asset_class, bad * here.information, (here.counts[0] + bad) * here.information});
    if (here.jobs() > 0) ++pool.with_records;
  }
  if (pack.settings.pool_classes && pool.with_records >= 2) {
    pool.probabilities = pool_probabilities(classes);
  }
  return pool;
}

// Over all classes; `between` becomes the spread between them where one was found.
Estimate common_estimate(const ModeCounts& total, const Pool& pool, Dirichlet& between) {
  Estimate common = alone(total, total.prior);
  common.method = "judgement worth " + counted(total.prior.weight());
  if (total.jobs() > 0) {
    common.method += " and " + counted(total.jobs());
    if (!total.counted.empty()) {
      common.method += ", " + total.counted;
    } else if (total.information < 1) {
      common.method += ", ambiguous causes shared out";
    }
  }
  const double bad = common.posterior.alpha[1] + common.posterior.alpha[2];
  if (pool.probabilities && !pool.probabilities->no_spread_found) {
    const Beta& spread = pool.probabilities->between;
    between.alpha = {spread.beta, spread.alpha * common.posterior.alpha[1] / bad,
                     spread.alpha * common.posterior.alpha[2] / bad};
    // A machine of a class not met before: somewhere in the spread between classes.
    common.posterior = between;
    describe(common);
    common.method += ", spread between " + std::to_string(pool.with_records) + " classes";
  }
  return common;
}

// Of one class; `place`: its own in the pool.
Estimate class_estimate(const ModeCounts& here, const Pool& pool, std::size_t place,
                        const Estimate& common, const Dirichlet& between) {
  Estimate result;
  if (pool.probabilities && pool.probabilities->no_spread_found) {
    result = common;
    result.counts = here.counts;
    result.information = here.information;
    result.shrinkage = 1;
    result.method = "classes pooled: no spread between them found";
  } else if (pool.probabilities) {
    const PooledClass& in_pool = pool.probabilities->classes[place];
    result = alone(here, between);
    result.shrinkage = in_pool.shrinkage;
    result.not_sound_interval = in_pool.interval;
    result.method = "classes pooled by empirical Bayes, " + counted(here.jobs()) + " own";
  } else {
    result = alone(here, here.prior);
    result.method =
        "judgement worth " + counted(here.prior.weight()) + " and " + counted(here.jobs());
  }
  return result;
}

void estimate_type(PriorPack& pack, const std::string& type, const std::set<std::string>& modes,
                   const TypeRecords& records) {
  for (const std::string& mode : modes) {
    const PackKey every_key{type, mode, ""};
    const Pool pool = pool_of(pack, every_key, records);
    Dirichlet between;
    const Estimate common = common_estimate(records.all.at(mode), pool, between);
    finish(pack, every_key, common, records.every);
    std::size_t place = 1;
    for (const auto& [asset_class, counts] : records.by_class) {
      const std::size_t own = place++;
      if (asset_class.empty()) continue;
      finish(pack, {type, mode, asset_class},
             class_estimate(counts.at(mode), pool, own, common, between),
             *records.statistics.at(asset_class));
    }
  }
}

}  // namespace

void estimate(PriorPack& pack) {
  check(pack);
  pack.estimates.clear();
  // Modes and classes of each type, from judgement and records alike.
  std::map<std::string, std::set<std::string>> modes_of, classes_of;
  for (const auto& [key, judgement] : pack.judgements) {
    modes_of[key.type].insert(key.mode);
    if (!key.asset_class.empty()) classes_of[key.type].insert(key.asset_class);
  }
  for (const auto& [key, statistics] : pack.statistics.types) {
    for (const auto& [mode, unused] : statistics.modes) modes_of[key.type].insert(mode);
    for (const auto& [candidates, unused] : statistics.ambiguous) {
      for (const std::string& mode : candidates.modes) modes_of[key.type].insert(mode);
    }
    classes_of[key.type].insert(key.asset_class);
  }
  std::map<std::string, TypeRecords> records;
  for (const auto& [type, modes] : modes_of) {
    records.emplace(type, records_of(pack, type, modes, classes_of[type]));
  }
  level_counts(pack, records);
  for (const auto& [type, modes] : modes_of) estimate_type(pack, type, modes, records.at(type));
}

}  // namespace faultodds::priors
