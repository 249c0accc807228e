#include "priors/backtest.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <iterator>
#include <limits>
#include <map>
#include <mutex>
#include <set>
#include <span>
#include <string>
#include <thread>
#include <tuple>
#include <utility>

#include "core/diagnosis/assessment.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/program.h"
#include "core/error.h"
#include "core/in_parallel.h"
#include "core/number_text.h"
#include "priors/estimators.h"
#include "priors/suspect_bits.h"

namespace faultodds::priors {
namespace {

constexpr double least_probability = 1e-12;  // a forecast of 0 costs 27.6 nats, not infinity

// What was found of one component: bad (all its certain findings or candidates) or sound.
struct Examined {
  bool not_sound = false;
};

// Components as found. Ambiguous findings within one component still say that it is not sound;
// candidates in several components leave all of them out of the scores.
struct Found {
  std::map<std::size_t, Examined> components;
  std::set<std::size_t> causes;                   // components found not sound
  std::vector<std::set<std::size_t>> candidates;  // of findings across components
};

Found found_of(const Job& job, const circuit::Analysis& analysis) {
  Found found;
  std::map<std::size_t, std::size_t> sound, modes;
  for (const circuit::FailureMode& mode : analysis.modes) ++modes[mode.component_index];
  for (std::uint32_t m : job.sound) ++sound[analysis.modes[m].component_index];
  for (const auto& [component, count] : sound) {
    // Sound only if every mode of it was looked at.
    if (count == modes[component]) found.components[component].not_sound = false;
  }
  std::set<std::size_t> unclear;
  for (const Finding& finding : job.findings) {
    std::set<std::size_t> among;
    for (std::uint32_t m : finding.modes) among.insert(analysis.modes[m].component_index);
    if (among.size() == 1) {
      found.components[*among.begin()].not_sound = true;
      found.causes.insert(*among.begin());
    } else {
      found.candidates.push_back(among);
      unclear.insert(among.begin(), among.end());
    }
  }
  for (std::size_t component : unclear) {
    if (!found.causes.contains(component)) found.components.erase(component);
  }
  return found;
}

// P(some mode of the component is not sound), modes taken one by one: exact to the marginals.
using ByComponent = std::map<std::size_t, double>;

ByComponent not_sound_by_component(const diagnosis::Model& model, const diagnosis::Case& so_far) {
  const circuit::Analysis& analysis = model.analysis();
  const diagnosis::CaseNumbers numbers = diagnosis::read_case(model, so_far);
  diagnosis::Program::Lease propagation(model.program());
  propagation->clear();
  diagnosis::apply(model, numbers, *propagation);
  if (!std::isfinite(propagation->collect())) {
    throw Error(Code::conflicting_evidence, "the outcomes recorded cannot all be true");
  }
  propagation->distribute();
  ByComponent not_sound;
  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
    const auto at = not_sound.emplace(analysis.modes[m].component_index, 1.0).first;
    at->second *= propagation->posterior(model.program().mode(m))[0];
  }
  for (auto& [component, p] : not_sound) p = 1 - p;
  return not_sound;
}

// Whether what caused the complaint is known well enough: a true cause at `sure` or more, and no
// other component before it.
bool is_isolated(const std::map<std::size_t, double>& not_sound, const Found& found, double sure) {
  double highest = 0;
  for (const auto& [component, p] : not_sound) highest = std::max(highest, p);
  for (std::size_t cause : found.causes) {
    if (not_sound.at(cause) >= sure && not_sound.at(cause) >= highest - 1e-12) return true;
  }
  for (const std::set<std::size_t>& among : found.candidates) {
    double none = 1;
    double best = 0;
    for (std::size_t component : among) {
      none *= 1 - not_sound.at(component);
      best = std::max(best, not_sound.at(component));
    }
    if (1 - none >= sure && best >= highest - 1e-12) return true;
  }
  return false;
}

double rank_of(const std::map<std::size_t, double>& not_sound, const Found& found) {
  std::set<std::size_t> true_causes = found.causes;
  for (const std::set<std::size_t>& among : found.candidates) {
    true_causes.insert(among.begin(), among.end());
  }
  double best = 0;
  for (std::size_t cause : true_causes) best = std::max(best, not_sound.at(cause));
  // Ties share the mean of the places they take.
  double above = 0, equal = 0;
  for (const auto& [component, p] : not_sound) {
    if (p > best + 1e-12) {
      above += 1;
    } else if (p >= best - 1e-12) {
      equal += 1;
    }
  }
  return above + (equal + 1) / 2;
}

struct Bins {
  struct Bin {
    double predicted = 0, found = 0;
    std::size_t count = 0;
  };
  static constexpr double edges[] = {0, 0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1};
  Bin bins[10];

  void add(double p, bool happened) {
    std::size_t i = 0;
    while (i < 9 && p >= edges[i + 1]) ++i;
    bins[i].predicted += p;
    bins[i].found += happened ? 1 : 0;
    ++bins[i].count;
  }
};

// A forecast of one component that was then opened.
struct Forecast {
  double not_sound = 0;
  bool found_so = false;
};

// What each test would tell, by what was seen so far: the first steps of jobs recur.
class KnownBits {
 public:
  using Bits = std::shared_ptr<const std::vector<double>>;

  Bits of(const diagnosis::Model& model, const diagnosis::Case& so_far) {
    std::vector<std::uint32_t> key;
    for (const diagnosis::Evidence& e : so_far.evidence) {
      if (!e.outcome) return compute(model, so_far);
      key.push_back(e.observation);
      key.push_back(*e.outcome);
    }
    if (!so_far.component_hours.empty()) return compute(model, so_far);
    {
      const std::lock_guard lock(mutex_);
      const auto known = bits_.find(key);
      if (known != bits_.end()) return known->second;
    }
    Bits bits = compute(model, so_far);
    const std::lock_guard lock(mutex_);
    if (bits_.size() < most_kept) bits_.emplace(std::move(key), bits);
    return bits;
  }

 private:
  static constexpr std::size_t most_kept = 100'000;

  static Bits compute(const diagnosis::Model& model, const diagnosis::Case& so_far) {
    return std::make_shared<const std::vector<double>>(
        suspect_bits(model, diagnosis::read_case(model, so_far)));
  }

  std::mutex mutex_;
  std::map<std::vector<std::uint32_t>, Bits> bits_;
};

struct Compiled {
  explicit Compiled(diagnosis::Model compiled) : model(std::move(compiled)) {}
  diagnosis::Model model;
  KnownBits known_bits;
};

class Replayer {
 public:
  Replayer(Compiled& compiled, const Job& job, const BacktestOptions& options)
      : model_(compiled.model),
        known_bits_(compiled.known_bits),
        job_(job),
        options_(options),
        found_(found_of(job, model_.analysis())) {
    case_.fault_bits = false;  // but where they rank
    case_.component_hours = job.component_hours;
    for (const diagnosis::Evidence& e : job.evidence) {
      if (job.complaint == e.observation && case_.evidence.empty()) {
        case_.evidence.push_back(e);
      } else {
        recorded_.push_back(&e);
      }
    }
  }

  Replay run(std::vector<Forecast>& forecasts) {
    Replay replay;
    replay.job = job_.id;
    replay.machine = job_.asset;
    const ByComponent start = not_sound_by_component(model_, case_);
    replay.cause_found = !found_.causes.empty() || !found_.candidates.empty();
    if (replay.cause_found) {
      replay.rank = rank_of(start, found_);
      by_ranking(start, replay);
    }
    score(as_recorded(start, replay), forecasts, replay);
    return replay;
  }

 private:
  // On all that was recorded: which components were opened depends on that and no more, so scores
  // and calibration of those opened are not bent by the choice.
  void score(const ByComponent& last, std::vector<Forecast>& forecasts, Replay& replay) const {
    for (const auto& [component, examined] : found_.components) {
      const double p = last.at(component);
      const double said = examined.not_sound ? p : 1 - p;
      replay.log_score -= std::log(std::max(said, least_probability));
      replay.brier += (1 - said) * (1 - said);
      forecasts.push_back({p, examined.not_sound});
    }
    if (!found_.components.empty()) {
      replay.brier /= static_cast<double>(found_.components.size());
    }
  }

  bool known(const ByComponent& now) const { return is_isolated(now, found_, options_.isolated); }

  // Minutes of a test given the setup done so far, which it then adds to.
  double perform(std::uint32_t observation, std::vector<std::string>& setup) const {
    const circuit::Analysis& analysis = model_.analysis();
    const circuit::Observation& test = analysis.observations[observation];
    double minutes = test.perform_minutes;
    for (const std::string& step : test.setup) {
      if (std::find(setup.begin(), setup.end(), step) != setup.end()) continue;
      setup.push_back(step);
      for (const circuit::SetupStep& known_step : analysis.setup_steps) {
        if (known_step.id == step) minutes += known_step.minutes;
      }
    }
    return minutes;
  }

  double minutes_of(std::uint32_t observation, const std::vector<std::string>& setup) const {
    std::vector<std::string> done = setup;
    return perform(observation, done);
  }

  // Observations not made yet, best first.
  std::vector<std::uint32_t> ranked(const diagnosis::Case& so_far) const {
    std::vector<std::uint32_t> order;
    if (options_.ranking == Ranking::cause_bits) {
      for (const diagnosis::TestAssessment& test : diagnosis::assess(model_, so_far).tests) {
        order.push_back(test.observation);
      }
      // What the circuit would not propose may have been made all the same.
      for (std::uint32_t o = 0; o < model_.analysis().observations.size(); ++o) {
        if (model_.analysis().observations[o].withheld) order.push_back(o);
      }
      return order;
    }
    constexpr double least_minutes = 0.01;
    const circuit::Analysis& analysis = model_.analysis();
    const KnownBits::Bits bits = known_bits_.of(model_, so_far);
    std::vector<std::tuple<bool, double, std::uint32_t>> keys;
    for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
      if (std::any_of(so_far.evidence.begin(), so_far.evidence.end(),
                      [o](const diagnosis::Evidence& e) { return e.observation == o; })) {
        continue;
      }
      const double minutes = std::max(minutes_of(o, so_far.setup_done), least_minutes);
      keys.emplace_back(analysis.observations[o].energised, -(*bits)[o] / minutes, o);
    }
    std::sort(keys.begin(), keys.end());
    for (const auto& key : keys) order.push_back(std::get<2>(key));
    return order;
  }

  void by_ranking(ByComponent now, Replay& replay) const {
    diagnosis::Case so_far = case_;
    std::vector<const diagnosis::Evidence*> left = recorded_;
    while (!(replay.isolated = known(now)) && !left.empty() && replay.tests < options_.most_tests) {
      // The best ranked of the tests that were made; those asked for before it nobody made.
      std::size_t at = left.size();
      for (std::uint32_t asked_for : ranked(so_far)) {
        const auto made = std::find_if(
            left.begin(), left.end(),
            [asked_for](const diagnosis::Evidence* e) { return e->observation == asked_for; });
        if (made != left.end()) {
          at = static_cast<std::size_t>(made - left.begin());
          break;
        }
        ++replay.unmade;
      }
      if (at == left.size()) at = 0;  // only repetitions of what is known are left
      const diagnosis::Evidence* made = left[at];
      left.erase(left.begin() + static_cast<std::ptrdiff_t>(at));
      ++replay.tests;
      replay.minutes += perform(made->observation, so_far.setup_done);
      so_far.evidence.push_back(*made);
      now = not_sound_by_component(model_, so_far);
    }
  }

  ByComponent as_recorded(ByComponent now, Replay& replay) const {
    diagnosis::Case so_far = case_;
    bool was_known = false;
    for (const diagnosis::Evidence* made : recorded_) {
      was_known = was_known || known(now);
      if (replay.cause_found && !was_known) {
        ++replay.tests_recorded;
        replay.minutes_recorded += perform(made->observation, so_far.setup_done);
      }
      so_far.evidence.push_back(*made);
      now = not_sound_by_component(model_, so_far);
    }
    return now;
  }

  const diagnosis::Model& model_;
  KnownBits& known_bits_;
  const Job& job_;
  const BacktestOptions& options_;
  Found found_;
  diagnosis::Case case_;
  std::vector<const diagnosis::Evidence*> recorded_;
};

// `before` jobs were replayed earlier. Progress is told on the caller's thread.
void replay_side_by_side(std::span<const Job* const> jobs,
                         std::map<std::uint32_t, Compiled>& compiled,
                         const BacktestOptions& options, std::size_t before,
                         std::span<Replay> replays, std::span<std::vector<Forecast>> forecasts) {
  const std::thread::id caller = std::this_thread::get_id();
  std::atomic<std::size_t> finished{0};
  in_parallel(jobs.size(), options.threads, [&](std::size_t i) {
    replays[i] = Replayer(compiled.at(jobs[i]->circuit), *jobs[i], options).run(forecasts[i]);
    const std::size_t count = before + ++finished;
    if (options.progress && std::this_thread::get_id() == caller && !options.progress(count)) {
      throw Error(Code::cancelled,
                  "the backtest was cancelled after " + std::to_string(count) + " jobs");
    }
  });
}

std::string machine_of(const Backtest& replayed, std::size_t job) {
  const Replay& replay = replayed.jobs[job];
  return replay.machine.empty() ? "job " + std::to_string(job) : "machine " + replay.machine;
}

PairedDifference paired(const Backtest& first, const Backtest& second, bool with_cause_only,
                        const std::function<double(const Replay&)>& of) {
  std::vector<std::pair<std::string, double>> differences;  // by machine
  for (std::size_t i = 0; i < first.jobs.size(); ++i) {
    if (with_cause_only && !first.jobs[i].cause_found) continue;
    differences.emplace_back(machine_of(first, i), of(second.jobs[i]) - of(first.jobs[i]));
  }
  PairedDifference difference;
  const auto n = static_cast<double>(differences.size());
  for (const auto& [machine, d] : differences) difference.mean += d / n;
  std::map<std::string, double> residuals;
  for (const auto& [machine, d] : differences) residuals[machine] += d - difference.mean;
  const auto machines = static_cast<double>(residuals.size());
  if (residuals.size() < 2) {  // one machine tells nothing of others
    const double unknown = differences.empty() ? 0 : std::numeric_limits<double>::infinity();
    difference.interval = {-unknown, unknown};
    return difference;
  }
  double squares = 0;
  for (const auto& [machine, sum] : residuals) squares += sum * sum;
  const double half =
      student_quantile(0.95, machines - 1) * std::sqrt(squares * machines / (machines - 1)) / n;
  difference.interval = {difference.mean - half, difference.mean + half};
  return difference;
}

}  // namespace

PackOnDay fixed_pack(diagnosis::Pack pack) {
  auto shared = std::make_shared<const diagnosis::Pack>(std::move(pack));
  return [shared](Date) { return shared; };
}

PackOnDay relearned_pack(const std::vector<circuit::Analysis>& circuits,
                         const std::vector<Job>& jobs,
                         const std::map<ModeName, Dirichlet>& judgement,
                         const LearnOptions& options, std::size_t at_least) {
  struct State {
    std::shared_ptr<const diagnosis::Pack> pack;
    std::size_t learned_on = 0;
  };
  auto state = std::make_shared<State>();
  return [&circuits, &jobs, judgement, options, at_least, state](Date day) {
    const auto is_known = [day](const Job& job) { return job.closed < day; };
    const auto known = static_cast<std::size_t>(std::count_if(jobs.begin(), jobs.end(), is_known));
    const std::size_t more = std::max({at_least, state->learned_on / 2, std::size_t{1}});
    if (!state->pack || known >= state->learned_on + more) {
      std::vector<Job> closed;
      std::copy_if(jobs.begin(), jobs.end(), std::back_inserter(closed), is_known);
      state->learned_on = known;
      LearnOptions points = options;
      points.intervals = false;  // a pack for the engine has none
      points.tolerance = std::max(points.tolerance, 1e-5);
      state->pack = std::make_shared<const diagnosis::Pack>(
          learned_pack(learn(circuits, closed, judgement, points), "learned"));
    }
    return state->pack;
  };
}

Backtest backtest(const std::vector<circuit::Analysis>& circuits, const std::vector<Job>& jobs,
                  const PackOnDay& pack, const BacktestOptions& options) {
  Backtest result;
  std::vector<const Job*> order;
  for (const Job& job : jobs) {
    if (job.circuit >= circuits.size()) {
      throw Error(Code::invalid_case,
                  "work order " + job.id + ": its circuit is not among those given");
    }
    const Found found = found_of(job, circuits[job.circuit]);
    if (job.opened && job.complaint && (!found.components.empty() || !found.candidates.empty())) {
      order.push_back(&job);
    } else {
      ++result.left_out;
    }
  }
  std::stable_sort(order.begin(), order.end(),
                   [](const Job* a, const Job* b) { return *a->opened < *b->opened; });
  if (options.most_jobs > 0 && order.size() > options.most_jobs) {
    std::vector<const Job*> sample;
    for (std::size_t i = 0; i < options.most_jobs; ++i) {
      sample.push_back(order[i * order.size() / options.most_jobs]);
    }
    result.not_sampled = order.size() - sample.size();
    order = std::move(sample);
  }
  result.jobs.resize(order.size());
  std::vector<std::vector<Forecast>> forecasts(order.size());
  std::shared_ptr<const diagnosis::Pack> present;
  std::map<std::uint32_t, Compiled> compiled;
  std::size_t done = 0;
  while (done < order.size()) {
    // Jobs that have the same pack are replayed side by side.
    std::size_t end = done;
    std::shared_ptr<const diagnosis::Pack> next;
    for (; end < order.size(); ++end) {
      next = pack(*order[end]->opened);
      if (!next) throw Error(Code::invalid_argument, "no pack was given for a day of the backtest");
      if (end == done && next != present) {
        compiled.clear();
        present = next;
      }
      if (next != present) break;
      const std::uint32_t c = order[end]->circuit;
      if (!compiled.contains(c)) {
        compiled.try_emplace(c,
                             diagnosis::Model::compile(circuits[c], *present, options.asset_class));
      }
    }
    replay_side_by_side({order.data() + done, end - done}, compiled, options, done,
                        {result.jobs.data() + done, end - done},
                        {forecasts.data() + done, end - done});
    done = end;
  }
  Bins bins;
  for (const std::vector<Forecast>& of_job : forecasts) {
    for (const Forecast& forecast : of_job) bins.add(forecast.not_sound, forecast.found_so);
  }
  const double n = std::max<double>(1, static_cast<double>(result.jobs.size()));
  for (const Replay& replay : result.jobs) result.with_cause += replay.cause_found ? 1 : 0;
  const double causes = std::max<double>(1, static_cast<double>(result.with_cause));
  for (const Replay& replay : result.jobs) {
    result.log_score += replay.log_score / n;
    result.brier += replay.brier / n;
    if (!replay.cause_found) continue;
    result.rank += replay.rank / causes;
    result.first_ranked += (replay.rank <= 1 ? 1 : 0) / causes;
    result.tests += static_cast<double>(replay.tests) / causes;
    result.tests_recorded += static_cast<double>(replay.tests_recorded) / causes;
    result.minutes += replay.minutes / causes;
    result.minutes_recorded += replay.minutes_recorded / causes;
    result.isolated += (replay.isolated ? 1 : 0) / causes;
    result.unmade += replay.unmade;
    result.asked += replay.unmade + replay.tests;
  }
  for (std::size_t i = 0; i < 10; ++i) {
    const Bins::Bin& bin = bins.bins[i];
    if (bin.count == 0) continue;
    const auto count = static_cast<double>(bin.count);
    CalibrationBin shown;
    shown.low = Bins::edges[i];
    shown.high = Bins::edges[i + 1];
    shown.predicted = bin.predicted / count;
    shown.found = bin.found / count;
    shown.count = bin.count;
    shown.interval = estimate_probability(bin.found, count).interval;
    result.calibration.push_back(shown);
  }
  return result;
}

Comparison compare(const Backtest& first, const Backtest& second, std::optional<double> confirmed) {
  bool same = first.jobs.size() == second.jobs.size();
  for (std::size_t i = 0; same && i < first.jobs.size(); ++i) {
    same = first.jobs[i].job == second.jobs[i].job;
  }
  if (!same || first.jobs.size() < 10) {
    throw Error(Code::invalid_argument,
                "the two backtests replayed " + std::to_string(first.jobs.size()) + " and " +
                    std::to_string(second.jobs.size()) +
                    " jobs; expected the same ones in the same order, 10 at least");
  }
  Comparison result;
  result.jobs = first.jobs.size();
  result.log_score = paired(first, second, false, [](const Replay& r) { return r.log_score; });
  result.brier = paired(first, second, false, [](const Replay& r) { return r.brier; });
  result.tests =
      paired(first, second, true, [](const Replay& r) { return static_cast<double>(r.tests); });
  result.minutes = paired(first, second, true, [](const Replay& r) { return r.minutes; });
  std::set<std::string> machines;
  for (std::size_t i = 0; i < first.jobs.size(); ++i) machines.insert(machine_of(first, i));
  result.machines = machines.size();
  result.confirmed = confirmed;
  if (result.log_score.interval.lower > 0) {
    result.verdict = Verdict::worse;
    result.because = "its odds were worse than those of the present pack";
  } else if (result.log_score.interval.upper >= 0) {
    result.because = "the jobs replayed do not tell it from the present pack";
  } else if (confirmed && *confirmed < kLeastConfirmed) {
    result.because = "its odds were better than those of the present pack, but only " +
                     fixed_text(100 * *confirmed, 0) + " % of the findings were looked at, of " +
                     fixed_text(100 * kLeastConfirmed, 0) +
                     " % at least: what is booked as proposed proves the proposals right";
  } else {
    result.verdict = Verdict::better;
    result.because = "its odds were better than those of the present pack";
  }
  result.because += ", on " + std::to_string(result.jobs) + " jobs";
  return result;
}

double brier_score(const std::vector<double>& forecast, std::size_t happened) {
  double sum = 0;
  for (std::size_t i = 0; i < forecast.size(); ++i) {
    const double off = forecast[i] - (i == happened ? 1 : 0);
    sum += off * off;
  }
  return sum;
}

double log_score(const std::vector<double>& forecast, std::size_t happened) {
  return -std::log(forecast.at(happened));
}

}  // namespace faultodds::priors
