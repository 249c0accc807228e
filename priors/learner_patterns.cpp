// Records as patterns: what each says of the modes of its circuit, and in how many ways.
#include <algorithm>
#include <cmath>
#include <set>
#include <tuple>

#include "core/error.h"
#include "priors/learner.h"

namespace faultodds::priors {
namespace {

void check(const Job& job, std::size_t modes) {
  for (const std::uint32_t mode : job.sound) {
    if (mode >= modes) refuse_job(job, "a mode found sound is not one of the circuit's");
  }
  int ambiguous = 0;
  for (const Finding& finding : job.findings) {
    if (finding.modes.empty()) refuse_job(job, "a finding names no mode");
    if (finding.grade && (*finding.grade < 1 || *finding.grade > 2)) {
      refuse_job(
          job, "the grade of a finding is " + std::to_string(*finding.grade) + "; expected 1 or 2");
    }
    for (const std::uint32_t mode : finding.modes) {
      if (mode >= modes) refuse_job(job, "a finding's mode is not one of the circuit's");
    }
    if (finding.modes.size() > 1 && ++ambiguous > 4) {
      refuse_job(job, "it has more than the four ambiguous findings allowed");
    }
  }
}

// The worst of the finding's modes is of its grade: all at most it, less all below it.
void apply(const Finding& finding, std::vector<Term>& terms) {
  const Grades at_most = finding.grade == 1 ? Grades{1, 1, 0} : Grades{1, 1, 1};
  const Grades below = finding.grade == 2 ? Grades{1, 1, 0} : Grades{1, 0, 0};
  if (finding.modes.size() == 1) {
    Grades exactly{};
    for (std::size_t g = 0; g < 3; ++g) exactly[g] = at_most[g] - below[g];
    for (Term& term : terms) restrict_to(term, finding.modes[0], exactly);
    return;
  }
  const std::size_t count = terms.size();
  for (std::size_t t = 0; t < count; ++t) {
    Term less = terms[t];
    less.sign = -less.sign;
    for (const std::uint32_t mode : finding.modes) {
      restrict_to(terms[t], mode, at_most);
      restrict_to(less, mode, below);
    }
    terms.push_back(std::move(less));
  }
}

}  // namespace

double Learner::choices(const Job& job, const Finding& finding) const {
  const circuit::Analysis& analysis = circuits_[job.circuit];
  double named = 1;
  if (finding.modes.size() == 1) {
    const std::size_t component = analysis.modes[finding.modes[0]].component_index;
    named = static_cast<double>(std::count_if(
        analysis.modes.begin(), analysis.modes.end(),
        [&](const circuit::FailureMode& mode) { return mode.component_index == component; }));
  }
  const double choice = named * (finding.grade ? 2 : 1);
  if (!sound_untold_) return choice;  // that the part was next, looked at or not, is told
  std::set<std::size_t> parts;
  if (job.complaint) {
    for (const std::uint32_t m : suspects(job.circuit, *job.complaint)) {
      parts.insert(analysis.modes[m].component_index);
    }
  } else {
    for (const circuit::FailureMode& mode : analysis.modes) parts.insert(mode.component_index);
  }
  return std::max<double>(1, static_cast<double>(parts.size())) * choice;
}

std::set<std::uint32_t> Learner::suspects(std::uint32_t c, std::uint32_t complaint) const {
  const std::vector<circuit::FailureMode>& all = circuits_[c].modes;
  std::set<std::size_t> parts;
  for (const circuit::ModeSet& set : circuits_[c].observations[complaint].sets) {
    for (const std::uint32_t m : set.modes) parts.insert(all[m].component_index);
  }
  std::set<std::uint32_t> modes;
  for (std::uint32_t m = 0; m < all.size(); ++m) {
    if (parts.contains(all[m].component_index)) modes.insert(m);
  }
  return modes;
}

void Learner::see_what_is_told(const std::vector<Job>& jobs) {
  constexpr double hardly_any = 0.01;
  double complained = 0, nothing_found = 0, sound_told = 0, looked = 0, findings = 0;
  for (const Job& job : jobs) {
    if (!job.complaint) continue;
    const double orders = static_cast<double>(job.orders);
    complained += orders;
    nothing_found += job.findings.empty() ? orders : 0;
    std::set<std::size_t> found;
    for (const Finding& finding : job.findings) {
      found.insert(circuits_[job.circuit].modes[finding.modes.at(0)].component_index);
      findings += orders;
      looked += finding.confirmed == true ? orders : 0;
    }
    const bool told = std::any_of(job.sound.begin(), job.sound.end(), [&](std::uint32_t m) {
      return !found.contains(circuits_[job.circuit].modes[m].component_index);
    });
    sound_told += told ? orders : 0;
  }
  faults_alone_ = nothing_found < hardly_any * complained;
  sound_untold_ = sound_told < hardly_any * complained;
  if (2 * looked > findings) booking_ = said_seen;
  see_when_sound_is_told(jobs);
}

void Learner::see_when_sound_is_told(const std::vector<Job>& jobs) {
  constexpr std::uint64_t most_periods = 8, fewest_orders = 50;
  constexpr double surely = 3;  // standard deviations
  struct Told {
    double orders = 0, parts = 0, squares = 0;
    double mean() const { return parts / orders; }
    double variance() const { return (squares / orders - mean() * mean()) / orders; }
  };
  telling_.assign(jobs.size(), true);
  std::map<Date, std::uint64_t> days;
  std::uint64_t all = 0;
  for (const Job& job : jobs) {
    if (!job.complaint) continue;
    days[job.closed] += job.orders;
    all += job.orders;
  }
  const std::uint64_t periods = std::min(most_periods, all / fewest_orders);
  if (periods < 2) return;
  std::map<Date, std::size_t> period_of;
  std::uint64_t before = 0;
  for (const auto& [day, orders] : days) {
    period_of[day] = static_cast<std::size_t>(before * periods / all);
    before += orders;
  }
  std::vector<Told> told(static_cast<std::size_t>(periods));
  for (const Job& job : jobs) {
    if (!job.complaint) continue;
    std::set<std::size_t> parts;
    for (const std::uint32_t m : job.sound) {
      parts.insert(circuits_[job.circuit].modes[m].component_index);
    }
    for (const Finding& finding : job.findings) {
      parts.erase(circuits_[job.circuit].modes[finding.modes.at(0)].component_index);
    }
    const double orders = static_cast<double>(job.orders), n = static_cast<double>(parts.size());
    Told& here = told[period_of[job.closed]];
    here.orders += orders;
    here.parts += orders * n;
    here.squares += orders * n * n;
  }
  const Told* most = nullptr;
  for (const Told& period : told) {
    if (period.orders > 0 && (most == nullptr || period.mean() > most->mean())) most = &period;
  }
  for (std::size_t j = 0; j < jobs.size(); ++j) {
    if (!jobs[j].complaint) continue;
    const Told& here = told[period_of[jobs[j].closed]];
    const double noise = std::sqrt(here.variance() + most->variance());
    telling_[j] = here.mean() >= most->mean() - surely * noise;
  }
}

// Of n faulty suspects, opened in no order that is told, each is the first in one case of n: the
// integral of t^(n - 1) from 0 to 1, t being a factor of each that is not named. Gauss-Legendre.
void Learner::found_first(const Job& job, std::vector<Term>& terms) const {
  constexpr std::array<std::pair<double, double>, 3> nodes{
      {{0.1127016653792583, 5.0 / 18}, {0.5, 8.0 / 18}, {0.8872983346207417, 5.0 / 18}}};
  std::set<std::uint32_t> others = suspects(job.circuit, *job.complaint);
  const std::vector<circuit::FailureMode>& modes = circuits_[job.circuit].modes;
  std::set<std::size_t> named;
  for (const Finding& finding : job.findings) {
    for (const std::uint32_t m : finding.modes) named.insert(modes[m].component_index);
  }
  std::erase_if(others, [&](std::uint32_t m) { return named.contains(modes[m].component_index); });
  std::vector<Term> first;
  for (const Term& term : terms) {
    if (term.seen[0] + term.seen[1] == 0) {
      first.push_back(term);
      continue;
    }
    for (const auto& [t, weight] : nodes) {
      Term at_node = term;
      at_node.sign *= weight;
      for (const std::uint32_t m : others) restrict_to(at_node, m, {1, t, t});
      first.push_back(std::move(at_node));
    }
  }
  terms = std::move(first);
}

std::vector<Term> Learner::terms_of(const Job& job, bool telling) const {
  const circuit::Analysis& analysis = circuits_[job.circuit];
  check(job, analysis.modes.size());
  std::vector<Term> terms(1);
  if (!options_.doubt_records) {
    for (const std::uint32_t mode : job.sound) restrict_to(terms[0], mode, {1, 0, 0});
    for (const Finding& finding : job.findings) apply(finding, terms);
    return terms;
  }
  // What a part was booked with, and what that says of its other modes, is true together or says
  // nothing together.
  std::map<std::size_t, std::vector<const Finding*>> booked;
  for (const Finding& finding : job.findings) {
    booked[analysis.modes[finding.modes[0]].component_index].push_back(&finding);
  }
  std::map<std::size_t, std::vector<std::uint32_t>> beside;
  for (const std::uint32_t mode : job.sound) {
    const std::size_t component = analysis.modes[mode].component_index;
    if (booked.contains(component)) {
      beside[component].push_back(mode);
    } else {
      terms[0].sound.push_back(mode);
    }
  }
  std::set<std::size_t> seen_sound;
  for (const std::uint32_t mode : terms[0].sound) {
    seen_sound.insert(analysis.modes[mode].component_index);
  }
  for (std::size_t i = 0; i < seen_sound.size() && telling; ++i)
    ++terms[0].looked[after(booking_, i)];
  constexpr std::size_t most_doubted = 3;
  std::size_t doubted = 0;
  for (const auto& [component, findings] : booked) {
    if (std::any_of(findings.begin(), findings.end(),
                    [](const Finding* finding) { return finding->confirmed == false; })) {
      continue;  // nobody looked: the order says what was proposed
    }
    const Doubt said = findings[0]->confirmed == true ? said_seen : not_told;
    const Doubt kind = telling ? after(said, seen_sound.size()) : untold(said);
    std::vector<Term> blind;
    if (++doubted <= most_doubted) {
      blind = terms;
      double chance = 1;
      for (const Finding* finding : findings) chance /= choices(job, *finding);
      for (Term& term : blind) {
        ++term.blind[kind];
        term.sign *= chance;
      }
    }
    for (Term& term : terms) {
      ++term.looked[kind];
      ++term.seen[said == said_seen];
      const std::vector<std::uint32_t>& sound = beside[component];
      term.sound.insert(term.sound.end(), sound.begin(), sound.end());
    }
    for (const Finding* finding : findings) apply(*finding, terms);
    terms.insert(terms.end(), blind.begin(), blind.end());
  }
  if (sound_untold_ && job.complaint) found_first(job, terms);
  return terms;
}

// In the order of what they say, so that nothing learned depends on the order of the jobs, or on
// whether those that say the same come one by one or counted.
void Learner::make_patterns(const std::vector<Job>& jobs) {
  using Made = std::tuple<std::uint32_t, std::optional<std::uint32_t>,
                          std::optional<std::array<double, 3>>, std::optional<double>>;
  using Key =
      std::tuple<std::uint32_t, std::size_t, std::optional<std::uint32_t>, std::vector<Made>,
                 std::vector<Finding>, std::vector<std::uint32_t>, bool, std::size_t>;
  std::set<std::string> sites;
  if (options_.doubt_records) {
    for (const Job& job : jobs) sites.insert(job.site);
  }
  sites_.assign(sites.begin(), sites.end());
  if (sites_.size() < 2) sites_.assign(1, "");
  std::map<Key, Pattern> known;
  for (std::size_t j = 0; j < jobs.size(); ++j) {
    const Job& job = jobs[j];
    if (job.circuit >= circuits_.size()) refuse_job(job, "its circuit is not among those given");
    const circuit::Analysis& analysis = circuits_[job.circuit];
    if (job.complaint && *job.complaint >= analysis.observations.size()) {
      refuse_job(job, "its complaint is not one of the circuit's observations");
    }
    const auto site = std::find(sites_.begin(), sites_.end(), job.site);
    const bool telling = telling_.empty() || telling_[j];
    const std::size_t of_site =
        site == sites_.end() ? 0 : static_cast<std::size_t>(site - sites_.begin());
    std::vector<std::pair<Made, const diagnosis::Evidence*>> made;
    bool alone = false;
    for (const diagnosis::Evidence& e : job.evidence) {
      if (e.observation >= analysis.observations.size()) {
        refuse_job(job, "an observation is not one of the circuit's");
      }
      const std::optional<double> rate = e.reading ? e.reading->leak_rate : std::nullopt;
      alone = alone || (e.reading && !rate);
      made.emplace_back(Made{e.observation, e.outcome, e.likelihood, rate}, &e);
    }
    std::stable_sort(made.begin(), made.end(),
                     [](const auto& a, const auto& b) { return a.first < b.first; });
    Key key{job.circuit,  of_site,   job.complaint, {},
            job.findings, job.sound, telling,       alone ? j + 1 : 0};
    for (const auto& [said, unused] : made) std::get<3>(key).push_back(said);
    std::sort(std::get<4>(key).begin(), std::get<4>(key).end());
    const auto [at, added] = known.try_emplace(std::move(key));
    Pattern& pattern = at->second;
    pattern.jobs += static_cast<double>(job.orders);
    if (!added) continue;
    pattern.telling = telling;
    pattern.circuit = job.circuit;
    pattern.site = of_site;
    pattern.complaint = job.complaint;
    for (const auto& [unused, evidence] : made) pattern.evidence.evidence.push_back(*evidence);
    pattern.terms = terms_of(job, telling);
    pattern.example = &job;
    for (const Finding& finding : job.findings) {
      (finding.confirmed == false ? pattern.not_looked_at : pattern.found) = true;
    }
    std::set<std::uint32_t> observations;
    for (const diagnosis::Evidence& e : job.evidence) observations.insert(e.observation);
    const auto complaint = job.complaint ? observations.find(*job.complaint) : observations.end();
    if (complaint != observations.end()) {
      pattern.complaint_at =
          static_cast<std::size_t>(std::distance(observations.begin(), complaint));
    }
    pattern.plan = plan_of(pattern);
  }
  for (auto& [unused, pattern] : known) patterns_.push_back(std::move(pattern));
}

std::size_t Learner::plan_of(const Pattern& pattern) {
  std::set<std::uint32_t> observations, named;
  for (const diagnosis::Evidence& e : pattern.evidence.evidence) observations.insert(e.observation);
  for (const Term& term : pattern.terms) {
    for (const auto& [mode, unused] : term.grades) named.insert(mode);
    named.insert(term.sound.begin(), term.sound.end());
  }
  const PlanKey key{{observations.begin(), observations.end()}, {named.begin(), named.end()}};
  const auto [at, added] = plan_place_.emplace(std::pair(pattern.circuit, key), plans_.size());
  if (added) {
    plans_.emplace_back(circuits_[pattern.circuit], conditions_[pattern.circuit], key.first,
                        key.second);
    if (!plans_.back().affordable()) takes_tree_[pattern.circuit] = true;
  }
  return at->second;
}

}  // namespace faultodds::priors
