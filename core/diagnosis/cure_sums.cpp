#include "core/diagnosis/cure_sums.h"

#include <algorithm>
#include <cmath>

#include "core/diagnosis/dot.h"
#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

// A decision sums over them hundreds of times.
constexpr Hypotheses::Effort kEffort{2'500, 300, 1'500};
constexpr auto kNowhere = static_cast<std::size_t>(-1);

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
    Complained one;
    one.observation = o;
    one.sets = analysis.observations[o].sets.size();
    const ObservedGrade* seen = seen_of(numbers, o);
    if (seen) one.whatever = seen->likelihood;
    one.cured = without_background(analysis.observations[o], seen);
    for (std::size_t s = 0; s < 3; ++s) one.cured[s] *= one.whatever[s];
    for (std::size_t j = 0; j < one.sets; ++j) {
      for (std::size_t t = 0; t < 2; ++t) {
        for (std::size_t h = 0; h < n; ++h) {
          one.at_most.push_back(hypotheses_.at_most(h, o, j, t));
        }
      }
    }
    for (std::size_t h = 0; h < n; ++h) {
      one.likelihood.push_back(
          weighed(one.whatever, hypotheses_.at_most(h, o, 0), hypotheses_.at_most(h, o, 1)));
    }
    complaint_.push_back(std::move(one));
  }
  place_.assign(analysis.observations.size(), kNowhere);
  for (std::uint32_t o = 0; o < place_.size(); ++o) {
    if (!hypotheses_.knows(o) || std::count(complaint.begin(), complaint.end(), o) > 0) continue;
    check_stop();
    place_[o] = plain_.size();
    plain_.push_back(o);
    for (std::size_t t = 0; t < 2; ++t) {
      for (std::size_t h = 0; h < n; ++h) at_most_.push_back(hypotheses_.at_most(h, o, t));
    }
    auto& shares = shares_.emplace_back();
    const ObservedGrade* seen = seen_of(numbers, o);
    if (!seen) continue;
    const double* most = at_most_.data() + 2 * n * place_[o];
    shares.assign(3 * n, 0);
    for (std::size_t h = 0; h < n; ++h) {
      const Grades given = given_seen(seen->likelihood, most[h], most[n + h]);
      for (std::size_t s = 0; s < 3; ++s) shares[s * n + h] = given[s];
    }
  }
}

std::vector<double> CureSums::factors(const std::vector<bool>* left, Background background,
                                      std::span<const Supposition> supposed,
                                      std::vector<std::vector<double>>* shown) const {
  const std::size_t n = hypotheses_.size();
  std::vector<double> factor(n);
  for (std::size_t h = 0; h < n; ++h) factor[h] = hypotheses_.weight(h);
  for (const Supposition& s : supposed) {
    const std::size_t at = place_[s.observation];
    if (at == kNowhere) continue;
    const double* most = at_most_.data() + at * 2 * n;
    for (std::size_t h = 0; h < n; ++h) factor[h] *= weighed(s.likelihood, most[h], most[n + h]);
  }
  std::size_t first = 0;
  std::vector<double> none(n), most0(n), most1(n);
  for (const Complained& of : complaint_) {
    std::fill(none.begin(), none.end(), 1.0);
    std::fill(most0.begin(), most0.end(), 1.0);
    std::fill(most1.begin(), most1.end(), 1.0);
    for (std::size_t j = 0; j < of.sets; ++j) {
      const double* at = of.at_most.data() + j * 2 * n;
      if (left && (*left)[first + j]) {
        for (std::size_t h = 0; h < n; ++h) none[h] *= at[h];
      } else {
        for (std::size_t h = 0; h < n; ++h) {
          most0[h] *= at[h];
          most1[h] *= at[n + h];
        }
      }
    }
    first += of.sets;
    Grades likelihood = background == Background::none ? of.cured : of.whatever;
    for (const Supposition& s : supposed) {
      if (s.observation != of.observation) continue;
      for (std::size_t g = 0; g < 3; ++g) likelihood[g] *= s.likelihood[g];
    }
    std::vector<double>* by_grade = nullptr;
    if (shown) by_grade = &shown->emplace_back(3 * n);
    for (std::size_t h = 0; h < n; ++h) {
      const double through = weighed(likelihood, most0[h], most1[h]);
      factor[h] *= of.likelihood[h] > 0 ? none[h] * through / of.likelihood[h] : 0;
      if (!by_grade) continue;
      const Grades given = given_seen(likelihood, most0[h], most1[h]);
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
  const std::vector<double> factor =
      factors(left, left ? Background::none : Background::any, supposed, grades ? &shown : nullptr);
  Of of;
  for (const double f : factor) of.probability += f;
  if (!grades) return of;
  of.grades.assign(place_.size(), Grades{});
  for (std::size_t k = 0; k < plain_.size(); ++k) {
    const double* most = at_most_.data() + k * 2 * n;
    Grades& into = of.grades[plain_[k]];
    if (const auto& shares = shares_[k]; !shares.empty()) {
      for (std::size_t g = 0; g < 3; ++g) into[g] = dot(factor.data(), shares.data() + g * n, n);
      continue;
    }
    const double at0 = dot(factor.data(), most, n), at1 = dot(factor.data(), most + n, n);
    into = {at0, at1 - at0, of.probability - at1};
  }
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
  const std::vector<double> cured = factors(&left, Background::none, {}, nullptr);
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
  for (const double f : factors(&chosen, Background::any, {}, nullptr)) none += f;
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
