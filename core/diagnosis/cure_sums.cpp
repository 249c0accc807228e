#include "core/diagnosis/cure_sums.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "core/diagnosis/dot.h"
#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

// A decision sums over them hundreds of times.
constexpr Hypotheses::Effort kEffort{2'500, 300, 1'500};
constexpr auto kNowhere = static_cast<std::size_t>(-1);

// What set j of an observation shows at most in most hypotheses, where that is possible at all;
// else what nothing shows. The candidate is found by Boyer & Moore's vote (1981).
std::array<double, 2> usual_of(const Hypotheses& hypotheses, std::uint32_t o, std::size_t j) {
  std::array<double, 2> usual{1, 1};
  std::size_t votes = 0;
  for (std::size_t h = 0; h < hypotheses.size(); ++h) {
    const std::array<double, 2> one{hypotheses.at_most(h, o, j, 0), hypotheses.at_most(h, o, j, 1)};
    if (votes == 0) usual = one;
    votes = one == usual ? votes + 1 : votes - 1;
  }
  return usual[0] > 0 ? usual : std::array<double, 2>{1, 1};
}

}  // namespace

const ObservedGrade* seen_of(const CaseNumbers& numbers, std::uint32_t observation) {
  const auto seen =
      std::lower_bound(numbers.observed.begin(), numbers.observed.end(), observation,
                       [](const ObservedGrade& a, std::uint32_t o) { return a.observation < o; });
  return seen != numbers.observed.end() && seen->observation == observation ? &*seen : nullptr;
}

std::array<Grades, 3> by_background(const circuit::Observation& observation,
                                    const ObservedGrade& seen) {
  std::array<Grades, 3> factor{};
  const double scale = std::exp(-seen.log_combined);
  for (std::size_t b = 0; b < 3; ++b) {
    for (std::size_t s = 0; s < 3; ++s) {
      if (!(seen.likelihood[s] > 0)) continue;
      factor[b][s] = observation.background[b] * seen.over_g[std::max(s, b)] * seen.over_s[s] *
                     scale / seen.likelihood[s];
    }
  }
  return factor;
}

Grades without_background(const circuit::Observation& observation, const ObservedGrade* seen) {
  const double none = observation.background[0];
  return seen ? by_background(observation, *seen)[0] : Grades{none, none, none};
}

Grades with_background(const circuit::Observation& observation, const Grades& grades) {
  Grades out{};
  for (std::size_t s = 0; s < 3; ++s) {
    for (std::size_t b = 0; b < 3; ++b) {
      out[std::max(s, b)] += grades[s] * observation.background[b];
    }
  }
  return out;
}

CureSums::CureSums(const Model& model, const CaseNumbers& numbers,
                   std::vector<std::uint32_t> complaint, std::span<const std::uint32_t> asked)
    : model_(model), numbers_(numbers), hypotheses_(model, numbers, complaint, asked, kEffort) {
  const circuit::Analysis& analysis = model.analysis();
  const std::size_t n = hypotheses_.size();
  for (const std::uint32_t o : complaint) {
    check_stop();
    Complained one;
    one.observation = o;
    one.sets = analysis.observations[o].sets.size();
    one.first_set = shown_in_.size();
    shown_in_.resize(one.first_set + one.sets);
    const ObservedGrade* seen = seen_of(numbers, o);
    if (seen) one.whatever = seen->likelihood;
    one.cured = without_background(analysis.observations[o], seen);
    for (std::size_t s = 0; s < 3; ++s) one.cured[s] *= one.whatever[s];
    for (std::size_t j = 0; j < one.sets; ++j) {
      one.usual.push_back(usual_of(hypotheses_, o, j));
      if (one.usual.back() == std::array<double, 2>{1, 1}) continue;
      auto& all = shown_in_[one.first_set + j];
      all.resize(n);
      std::iota(all.begin(), all.end(), 0u);
    }
    for (std::uint32_t h = 0; h < n; ++h) {
      one.first.push_back(one.shown.size());
      for (std::size_t j = 0; j < one.sets; ++j) {
        Complained::Shown shown{static_cast<std::uint32_t>(one.first_set + j),
                                {hypotheses_.at_most(h, o, j, 0) / one.usual[j][0],
                                 hypotheses_.at_most(h, o, j, 1) / one.usual[j][1]}};
        if (shown.most[0] == 1 && shown.most[1] == 1) continue;
        one.shown.push_back(shown);
        auto& in = shown_in_[shown.set];
        if (in.size() < n) in.push_back(h);
      }
      one.likelihood.push_back(
          weighed(one.whatever, hypotheses_.at_most(h, o, 0), hypotheses_.at_most(h, o, 1)));
    }
    one.first.push_back(one.shown.size());
    complaint_.push_back(std::move(one));
    complained_of_.push_back(o);
  }
  place_.assign(analysis.observations.size(), kNowhere);
  for (std::uint32_t o = 0; o < place_.size(); ++o) {
    if (!hypotheses_.knows(o) || complained(o)) continue;
    if (seen_of(numbers, o)) plain_seen_.push_back(plain_.size());
    place_[o] = plain_.size();
    plain_.push_back(o);
  }
  at_most_.reserve(2 * n * plain_.size());
  shares_.reserve(3 * n * plain_seen_.size());
  for (std::size_t h = 0; h < n; ++h) {
    if (h % 256 == 0) check_stop();
    for (const std::uint32_t o : plain_) {
      for (std::size_t t = 0; t < 2; ++t) at_most_.push_back(hypotheses_.at_most(h, o, t));
    }
    const double* most = at_most_.data() + 2 * plain_.size() * h;
    for (const std::size_t k : plain_seen_) {
      const Grades given =
          given_seen(seen_of(numbers, plain_[k])->likelihood, most[2 * k], most[2 * k + 1]);
      shares_.insert(shares_.end(), given.begin(), given.end());
    }
  }
}

std::optional<std::size_t> CureSums::complained(std::uint32_t o) const {
  const auto at = std::find(complained_of_.begin(), complained_of_.end(), o);
  if (at == complained_of_.end()) return std::nullopt;
  return static_cast<std::size_t>(at - complained_of_.begin());
}

CureSums::Split CureSums::usual(const Complained& of, const Sets* left) {
  Split by;
  for (std::size_t j = 0; j < of.sets; ++j) {
    if (left && (*left)[of.first_set + j]) {
      by.none *= of.usual[j][0];
    } else {
      by.most0 *= of.usual[j][0];
      by.most1 *= of.usual[j][1];
    }
  }
  return by;
}

CureSums::Left::Left(const CureSums& sums, const std::vector<bool>& left)
    : sets_(left.begin(), left.end()) {
  for (const Complained& of : sums.complaint_) usual_.push_back(usual(of, &sets_));
}

CureSums::Split CureSums::split(const Complained& of, std::size_t h, const Sets* left,
                                Split split) {
  const Complained::Shown* shown = of.shown.data() + of.first[h];
  const Complained::Shown* const end = of.shown.data() + of.first[h + 1];
  if (!left) {
    for (; shown != end; ++shown) {
      split.most0 *= shown->most[0];
      split.most1 *= shown->most[1];
    }
    return split;
  }
  // Without a branch: which are left, nobody can predict.
  for (; shown != end; ++shown) {
    const bool none = (*left)[shown->set] != 0;
    split.none *= none ? shown->most[0] : 1;
    split.most0 *= none ? 1 : shown->most[0];
    split.most1 *= none ? 1 : shown->most[1];
  }
  return split;
}

double CureSums::cured(std::size_t h, const Left& left) const {
  double p = hypotheses_.weight(h);
  for (std::size_t q = 0; q < complaint_.size(); ++q) {
    const Complained& of = complaint_[q];
    if (!(of.likelihood[h] > 0)) return 0;
    const Split by = split(of, h, &left.sets_, left.usual_[q]);
    p *= by.none * weighed(of.cured, by.most0, by.most1) / of.likelihood[h];
  }
  return p;
}

Grades CureSums::cured(std::size_t h, const Left& left, std::size_t complained) const {
  double p = hypotheses_.weight(h);
  Grades by_grade{};
  for (std::size_t q = 0; q < complaint_.size(); ++q) {
    const Complained& of = complaint_[q];
    if (!(of.likelihood[h] > 0)) return {};
    const Split by = split(of, h, &left.sets_, left.usual_[q]);
    p *= by.none / of.likelihood[h];
    if (q == complained) {
      by_grade = seen_as(of.cured, by.most0, by.most1);
    } else {
      p *= weighed(of.cured, by.most0, by.most1);
    }
  }
  for (double& g : by_grade) g *= p;
  return by_grade;
}

void CureSums::weigh(std::uint32_t o, const Grades& weight, std::vector<double>& into) const {
  const std::size_t n = hypotheses_.size(), k = place_[o];
  into.assign(n, 0);
  if (k == kNowhere) return;
  const auto seen = std::find(plain_seen_.begin(), plain_seen_.end(), k);
  if (seen != plain_seen_.end()) {
    const double* share = shares_.data() + 3 * (seen - plain_seen_.begin());
    for (std::size_t h = 0; h < n; ++h, share += 3 * plain_seen_.size()) {
      into[h] = weight[0] * share[0] + weight[1] * share[1] + weight[2] * share[2];
    }
    return;
  }
  const double* most = at_most_.data() + 2 * k;
  for (std::size_t h = 0; h < n; ++h, most += 2 * plain_.size()) {
    into[h] = weighed(weight, most[0], most[1]);
  }
}

CureSums::Grader::Grader(const CureSums& sums)
    : of_(&sums), sums_(1 + 2 * sums.plain_.size() + 3 * sums.plain_seen_.size(), 0.0) {}

void CureSums::Grader::add(std::size_t h, double factor) {
  const std::size_t most = 2 * of_->plain_.size(), shares = 3 * of_->plain_seen_.size();
  const double* from = of_->at_most_.data() + most * h;
  double* into = sums_.data() + 1;
  add_scaled(from, factor, most, into);
  add_scaled(of_->shares_.data() + shares * h, factor, shares, into + most);
  sums_[0] += factor;
}

void CureSums::Grader::read(std::vector<Grades>& into) const {
  const double* most = sums_.data() + 1;
  for (const std::uint32_t o : of_->plain_) {
    into[o] = {most[0], most[1] - most[0], sums_[0] - most[1]};
    most += 2;
  }
  for (const std::size_t k : of_->plain_seen_) {
    into[of_->plain_[k]] = {most[0], most[1], most[2]};
    most += 3;
  }
}

std::vector<double> CureSums::factors(const Sets* left, Background background,
                                      std::span<const Supposition> supposed,
                                      std::vector<std::vector<double>>* shown) const {
  const std::size_t n = hypotheses_.size();
  std::vector<double> factor(n), one;
  for (std::size_t h = 0; h < n; ++h) factor[h] = hypotheses_.weight(h);
  for (const Supposition& s : supposed) {
    if (place_[s.observation] == kNowhere) continue;
    weigh(s.observation, s.likelihood, one);
    for (std::size_t h = 0; h < n; ++h) factor[h] *= one[h];
  }
  for (const Complained& of : complaint_) {
    Grades likelihood = background == Background::none ? of.cured : of.whatever;
    for (const Supposition& s : supposed) {
      if (s.observation != of.observation) continue;
      for (std::size_t g = 0; g < 3; ++g) likelihood[g] *= s.likelihood[g];
    }
    std::vector<double>* by_grade = nullptr;
    if (shown) by_grade = &shown->emplace_back(3 * n);
    const Split as_usual = usual(of, left);
    for (std::size_t h = 0; h < n; ++h) {
      const Split by = split(of, h, left, as_usual);
      const double through = weighed(likelihood, by.most0, by.most1);
      factor[h] *= of.likelihood[h] > 0 ? by.none * through / of.likelihood[h] : 0;
      if (!by_grade) continue;
      const Grades given = given_seen(likelihood, by.most0, by.most1);
      for (std::size_t s = 0; s < 3; ++s) (*by_grade)[s * n + h] = given[s];
    }
  }
  return factor;
}

CureSums::Of CureSums::sum(const std::vector<bool>* left, std::span<const Supposition> supposed,
                           bool grades) const {
  check_stop();
  const std::size_t n = hypotheses_.size();
  std::vector<std::vector<double>> shown;
  const Sets sets = left ? Sets(left->begin(), left->end()) : Sets{};
  const std::vector<double> factor =
      factors(left ? &sets : nullptr, left ? Background::none : Background::any, supposed,
              grades ? &shown : nullptr);
  Of of;
  for (const double f : factor) of.probability += f;
  if (!grades) return of;
  of.grades = no_grades();
  Grader grader(*this);
  for (std::size_t h = 0; h < n; ++h) {
    if (factor[h] != 0) grader.add(h, factor[h]);
  }
  grader.read(of.grades);
  for (std::size_t q = 0; q < complaint_.size(); ++q) {
    Grades& into = of.grades[complaint_[q].observation];
    for (std::size_t g = 0; g < 3; ++g) {
      into[g] = dot(factor.data(), shown[q].data() + g * n, n);
    }
  }
  return of;
}

CureSums::After CureSums::after(std::uint32_t test, const std::vector<bool>& renewed,
                                const std::vector<bool>& left) const {
  const std::size_t n = hypotheses_.size();
  const circuit::Observation& observation = model_.analysis().observations[test];
  const auto& sets = observation.sets;
  const ObservedGrade* seen = seen_of(numbers_, test);
  const std::array<Grades, 3> background =
      seen ? by_background(observation, *seen) : std::array<Grades, 3>{};
  const bool is_complaint = place_[test] == kNowhere;
  const std::vector<double> any = factors(nullptr, Background::any, {}, nullptr);
  const Sets shows_nothing(left.begin(), left.end());
  const std::vector<double> cured = factors(&shows_nothing, Background::none, {}, nullptr);
  After out;
  for (std::size_t h = 0; h < n; ++h) {
    // What is left shows at most t (`of`), and so does what is renewed (`with`).
    double of[3] = {1, 1, 1}, with[3] = {1, 1, 1};
    for (std::size_t j = 0; j < sets.size(); ++j) {
      for (std::size_t t = 0; t < 2; ++t) {
        (renewed[j] ? with : of)[t] *= hypotheses_.at_most(h, test, j, t);
      }
    }
    Grades grades{of[0], of[1] - of[0], 1 - of[1]};
    if (seen) {
      // P(left = s, background = b | what was seen): the largest of what is left and what is
      // renewed was seen as S = k.
      Grades joint{};
      double all = 0;
      for (std::size_t k = 0; k < 3; ++k) {
        for (std::size_t s = 0; s <= k; ++s) {
          const double below = k > 0 ? with[k - 1] : 0;
          const double p = seen->likelihood[k] * grades[s] * (s == k ? with[k] : with[k] - below);
          all += p;
          for (std::size_t b = 0; b < 3; ++b) joint[std::max(s, b)] += p * background[b][k];
        }
      }
      for (std::size_t s = 0; s < 3; ++s) grades[s] = all > 0 ? joint[s] / all : 0;
    } else {
      grades = with_background(observation, grades);
    }
    for (std::size_t s = 0; s < 3; ++s) {
      out.grades[s] += any[h] * grades[s];
      out.cured[s] += cured[h] * (is_complaint ? (s == 0 ? 1 : 0) : grades[s]);
    }
  }
  return out;
}

double CureSums::shows(const std::vector<bool>& chosen) const {
  double none = 0;
  const Sets sets(chosen.begin(), chosen.end());
  for (const double f : factors(&sets, Background::any, {}, nullptr)) none += f;
  return std::max(0.0, 1 - none);
}

double CureSums::not_sound(std::uint32_t mode) const {
  double p = 0;
  for (std::size_t h = 0; h < hypotheses_.size(); ++h) {
    p += hypotheses_.weight(h) * hypotheses_.not_sound(h, mode);
  }
  return p;
}

double CureSums::all_sound(std::span<const std::uint32_t> modes) const {
  double p = 0;
  for (std::size_t h = 0; h < hypotheses_.size(); ++h) {
    double sound = hypotheses_.weight(h);
    for (const std::uint32_t m : modes) sound *= 1 - hypotheses_.not_sound(h, m);
    p += sound;
  }
  return p;
}

}  // namespace faultodds::diagnosis
