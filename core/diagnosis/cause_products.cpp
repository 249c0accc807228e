#include "core/diagnosis/cause_products.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "core/diagnosis/cause_layout.h"
#include "core/diagnosis/cause_summation.h"
#include "core/diagnosis/program.h"
#include "core/error.h"

namespace faultodds::diagnosis {

using namespace products;

namespace {

// Up to so many nodes of the quadrature it is not asked whether fewer would do.
constexpr std::size_t kFewNodes = 7;
constexpr std::size_t kUsualNodes = 12;
// Numbers that are added up to tabulate, above which a case is summed as it comes.
constexpr std::size_t kMostTableWork = 10'000'000;

// Bytes of which no account is kept: dropping plans for them would cost more.
constexpr double kSlightBytes = 64 * 1024;

// The model's memory while something is summed.
class ForNow {
 public:
  ForNow(const Program& program, double bytes)
      : program_(program), bytes_(bytes > kSlightBytes ? static_cast<std::size_t>(bytes) : 0) {
    if (bytes_ > 0 && !program.take_for_now(bytes_)) throw TooLarge();
  }
  ~ForNow() {
    if (bytes_ > 0) program_.give_back_from_now(bytes_);
  }
  ForNow(const ForNow&) = delete;
  ForNow& operator=(const ForNow&) = delete;

 private:
  const Program& program_;
  const std::size_t bytes_;
};

// Sums over columns to sums over values.
template <typename Real>
void by_value(const CauseValues& values, const Real* sums, double* into) {
  const std::size_t sets = values.of_set.size(), columns = sets + values.though_sound.size();
  std::fill(into, into + values.size(), 0.0);
  std::vector<Real> total(values.size(), 0);
  for (std::size_t j = 0; j < columns; ++j) {
    total[j < sets ? values.of_set[j] : values.by_design()] += sums[j];
  }
  total[values.elsewhere()] = sums[columns];
  total[values.nothing()] = sums[columns + 1];
  for (std::size_t v = 0; v < values.size(); ++v) into[v] = static_cast<double>(total[v]);
}

// With as many nodes as the ties ask for: a few where several sets seldom show the same, and so
// many that nothing is lost where they often do.
template <typename Real>
Summation<Real> summed(const CauseProducts::Layout& layout, const Model& model,
                       const CaseNumbers* numbers, std::size_t most_parts, double most_bytes) {
  const auto with = [&](std::size_t nodes) {
    const std::size_t parts = std::min(most_parts, 2 * nodes + 1);
    const auto part = [&](std::size_t i) {
      Summation<Real> summation(layout, model, numbers, gauss_legendre<Real>(nodes), true,
                                most_bytes, {i, parts});
      summation.run();
      if (parts > 1) summation.keep_sums_only();
      return summation;
    };
    Summation<Real> summation = part(0);
    for (std::size_t i = 1; i < parts; ++i) summation.add(part(i));
    return summation;
  };
  const bool own =
      numbers != nullptr &&
      std::any_of(numbers->observed.begin(), numbers->observed.end(),
                  [&](const ObservedGrade& seen) {
                    return seen.observation == layout.focus && seen.over_s != Grades{1, 1, 1};
                  });
  if (own || layout.nodes <= kFewNodes) return with(layout.nodes);
  const double tolerance = 4 * static_cast<double>(std::numeric_limits<Real>::epsilon());
  const std::size_t parts = std::min<std::size_t>(most_parts, 3);
  const auto ties = [&](std::size_t i) {
    return Summation<Real>(layout, model, numbers, {{1, 1}}, false, most_bytes, {i, parts})
        .measure_ties();
  };
  TieLoss loss = ties(0);
  for (std::size_t i = 1; i < parts; ++i) loss.add(ties(i));
  const std::size_t nodes = loss.nodes(layout.nodes, tolerance);
  Summation<Real> summation = with(nodes);
  if (nodes == layout.nodes) return summation;
  for (std::size_t cell = 0; cell < summation.cells(); ++cell) {
    double total = 0;
    for (std::size_t j = 0; j < summation.width(); ++j) {
      total += static_cast<double>(summation.cause()[cell * summation.width() + j]);
    }
    if (loss.lost(cell, nodes) > 8 * tolerance * std::abs(total)) return with(layout.nodes);
  }
  return summation;
}

template <typename Real>
CauseSums sums_of(const CauseProducts::Layout& layout, const Model& model,
                  const CaseNumbers& numbers, std::size_t parts, double most_bytes) {
  const Summation<Real> summation = summed<Real>(layout, model, &numbers, parts, most_bytes);
  CauseSums sums;
  sums.values = layout.values.size();
  sums.cause.resize(sums.values);
  by_value(layout.values, summation.cause().data(), sums.cause.data());
  sums.at_most.assign(layout.numbers * kThresholds * sums.values, 0);
  for (std::size_t i = 0; i < layout.tests.size(); ++i) {
    for (std::size_t t = 0; t < kThresholds; ++t) {
      by_value(layout.values, summation.at_most(i).data() + t * summation.width(),
               sums.at_most.data() + (layout.tests[i].observation * kThresholds + t) * sums.values);
    }
  }
  Real total = 0;
  for (Real x : summation.cause()) total += x;
  sums.magnitude = total > 0 ? static_cast<double>(summation.magnitude() / total)
                             : std::numeric_limits<double>::infinity();
  return sums;
}

}  // namespace

CauseProducts::CauseProducts(const Model& model, std::vector<std::uint32_t> observed,
                             std::uint32_t focus, std::vector<std::uint32_t> tests,
                             double most_lanes)
    : layout_(std::make_unique<const Layout>(model, std::move(observed), focus, std::move(tests),
                                             most_lanes)) {}
CauseProducts::~CauseProducts() = default;
CauseProducts::CauseProducts(CauseProducts&&) noexcept = default;

double CauseProducts::operations() const {
  const Layout& layout = *layout_;
  if (layout.too_large) return std::numeric_limits<double>::infinity();
  const auto columns = static_cast<double>(layout.columns);
  double each = static_cast<double>(layout.groups.front().lanes) * columns * 6, once = 0;
  for (const Group& group : layout.groups) {
    each += static_cast<double>(group.lanes * (group.atoms.size() * 2 + 4));
  }
  // Tests that touch the same modes of a group are taken to need the same sums of it.
  const auto bridged = static_cast<double>(layout.bridge_digits.place.back());
  std::set<std::vector<std::uint32_t>> reaches;
  std::set<std::uint64_t> views;
  for (const TestLayout& test : layout.tests) {
    const double combinations = test.digits.combinations();
    double known = 1;  // combinations of bridges that the test's cutset tells apart
    for (const Pinned& bridge : test.bridges) {
      known *= static_cast<double>(layout.bridge_digits.classes[bridge.index].count);
    }
    for (std::size_t i = 0; i < test.touches.size(); ++i) {
      const Group& group = layout.groups[test.touches[i]];
      std::vector<std::uint32_t> key{test.touches[i]};
      for (const Touched& one : test.touched[i]) key.push_back(one.index);
      for (const Pinned& one : test.in_cut[i]) key.push_back(one.index);
      const auto restricted = static_cast<double>(key.size() - 1);
      for (const Pinned& one : test.hub[i]) key.push_back(kNone - one.index);
      if (!reaches.insert(std::move(key)).second) continue;
      auto lanes = static_cast<double>(group.lanes);
      if (group.focus) {
        const std::uint64_t keeps = kept(group, test, i);
        views.insert(keeps);
        lanes = static_cast<double>(layout.marks());
        for (std::size_t k = 0; k < group.coordinates(); ++k) {
          if (!(keeps >> k & 1)) continue;
          lanes *=
              static_cast<double>(k < group.cut.size() ? group.digits.classes[k].count : kGrades);
        }
      }
      // Lanes that a combination leaves are few where it fixes the group's cutset, bridges too.
      double fixed = 1;
      for (const Pinned& hub : test.hub[i]) {
        fixed *= static_cast<double>(group.digits.classes[hub.index].count);
      }
      each += kThresholds * combinations / known * lanes / fixed *
              (restricted * 4 + (group.focus ? columns * 2 : 0) + 4);
    }
    each += kThresholds * combinations * (columns + 8) * std::max(1.0, bridged / known);
    once += combinations * std::exp2(static_cast<double>(test.conditions.size())) *
            static_cast<double>(test.free.size() * 2 + 4);
  }
  each += static_cast<double>(views.size() * layout.groups.front().lanes) * (columns + 1);
  return std::exp2(static_cast<double>(layout.conditions.size())) * each + once;
}

std::size_t CauseProducts::table_bytes() const {
  const Layout& layout = *layout_;
  if (layout.too_large || layout.groups.size() > 1 || layout.conditions.size() > 16 ||
      !layout.bridges.empty() || !layout.folds.empty()) {
    return 0;
  }
  const std::size_t cells = power_of_3(layout.groups.front().others.size()) * kGrades;
  std::size_t near = 0, far = 0;
  for (const TestLayout& test : layout.tests) ++(test.near() ? near : far);
  const std::size_t conditions = std::size_t{1} << layout.conditions.size();
  const std::size_t tables = (1 + near * kThresholds) * cells * layout.values.size();
  if (tables * conditions > kMostTableWork) return 0;
  return sizeof(double) *
         (tables + conditions * cells * layout.values.size() + far * kThresholds * conditions);
}

std::size_t CauseProducts::bytes() const {
  std::size_t bytes = sizeof(Layout);
  const auto of = [](const std::vector<Occurrence>& in) {
    std::size_t n = 0;
    for (const Occurrence& one : in) {
      n += sizeof one + one.cut.size() * (sizeof(std::uint32_t) + sizeof(std::size_t)) +
           one.at_most.size() * sizeof(double) + one.sound.size();
    }
    return n;
  };
  for (const Group& group : layout_->groups) {
    bytes += sizeof group + of(group.fixed) + group.atoms.size() * 32;
    for (const auto& in : group.in) bytes += of(in);
  }
  for (const TestLayout& test : layout_->tests) {
    bytes += sizeof test + of(test.fixed) + 256;
    for (const auto& list : test.touched) {
      for (const Touched& one : list) bytes += sizeof one + of(one.in) + 2 * kMostStates;
    }
    for (const Touched& one : test.free) bytes += sizeof one + of(one.in) + 2 * kMostStates;
  }
  return bytes;
}

double CauseProducts::scratch(std::size_t parts) const {
  if (layout_->too_large) return std::numeric_limits<double>::infinity();
  double numbers = 0;
  // Ties seldom ask for more nodes.
  const double usual = static_cast<double>(2 * std::min(layout_->nodes, kUsualNodes) + 1);
  const double marks = std::ceil(usual / static_cast<double>(parts));
  for (const Group& group : layout_->groups) {
    const double lanes = static_cast<double>(group.lanes) *
                         (group.focus ? marks / static_cast<double>(layout_->marks()) : 1);
    // Views, and quotients, take about what all lanes do.
    numbers +=
        2 * (lanes * layout_->numbers_per_lane(group) + layout_->numbers_of_atoms(group, marks));
  }
  // What tests need of the focus's group, by slice.
  const auto near = std::count_if(layout_->tests.begin(), layout_->tests.end(),
                                  [](const TestLayout& test) { return test.near(); });
  numbers += static_cast<double>(near) * kThresholds *
             static_cast<double>(layout_->groups.front().slices() * (layout_->columns + 2));
  return numbers * sizeof(double);
}

std::size_t CauseProducts::parts_within(double bytes) const {
  const std::size_t most = layout_->too_large ? 1 : 2 * std::min(layout_->nodes, kUsualNodes) + 1;
  std::size_t parts = 1;
  while (parts < most && scratch(parts) > bytes) ++parts;
  return parts;
}

bool CauseProducts::fits(double bytes) const {
  return scratch(parts_within(bytes)) <= bytes;
}

CauseSums CauseProducts::sum(const Model& model, const CaseNumbers& numbers, bool careful) const {
  if (layout_->too_large) {
    throw Error(Code::limit_exceeded, "too many observations share failure modes to be summed");
  }
  const auto budget = static_cast<double>(model.program().account().budget());
  for (std::size_t parts = parts_within(budget / 4);; parts *= 2) {
    try {
      const ForNow reserved(model.program(), std::min(budget, scratch(parts) * (careful ? 2 : 1)));
      return sum(model, numbers, careful, parts, budget);
    } catch (const TooLarge&) {
      if (parts >= layout_->marks()) {
        throw Error(Code::limit_exceeded,
                    "the model's memory budget of " +
                        std::to_string(model.program().account().budget()) +
                        " bytes does not suffice for sums over observations that share modes");
      }
    }
  }
}

CauseSums CauseProducts::sum(const Model& model, const CaseNumbers& numbers, bool careful,
                             std::size_t parts, double most_bytes) const {
  return careful ? sums_of<long double>(*layout_, model, numbers, parts, most_bytes)
                 : sums_of<double>(*layout_, model, numbers, parts, most_bytes);
}

std::shared_ptr<const ProductTables> CauseProducts::tabulate(const Model& model) const {
  const Layout& layout = *layout_;
  const auto budget = static_cast<double>(model.program().account().budget());
  const Summation<double> summation = summed<double>(layout, model, nullptr, 1, budget);
  auto tables = std::make_shared<ProductTables>();
  tables->values_ = layout.values.size();
  tables->numbers_ = layout.numbers;
  tables->cells_ = summation.cells();
  tables->observed_ = layout.observed;
  tables->focus_ = layout.focus;
  const auto add = [&](const double* cells, std::vector<double>& into) {
    for (std::size_t k = 0; k < summation.cells(); ++k) {
      into.resize(into.size() + layout.values.size());
      by_value(layout.values, cells + k * summation.width(),
               into.data() + into.size() - layout.values.size());
    }
  };
  add(summation.cause().data(), tables->all_);
  const std::size_t conditions = std::size_t{1} << layout.conditions.size();
  const std::size_t block = summation.cells() * summation.width();
  for (std::size_t c = 0; c < conditions; ++c) {
    add(summation.by_conditions().data() + c * block, tables->by_conditions_);
  }
  for (std::size_t i = 0; i < layout.tests.size(); ++i) {
    if (layout.tests[i].near()) {
      tables->near_.push_back(layout.tests[i].observation);
      for (std::size_t t = 0; t < kThresholds; ++t) {
        add(summation.at_most(i).data() + t * block, tables->tables_);
      }
      continue;
    }
    tables->far_.push_back(layout.tests[i].observation);
    for (std::size_t t = 0; t < kThresholds; ++t) {
      for (std::size_t c = 0; c < conditions; ++c) {
        tables->far_at_most_.push_back(summation.far(i, t, c));
      }
    }
  }
  return tables;
}

CauseSums ProductTables::weigh(const CaseNumbers& numbers) const {
  // The weight of each cell: thresholds of the other observations, the grade of the focus last.
  std::vector<double> weight{1};
  const Grades* over_g = nullptr;
  for (const ObservedGrade& seen : numbers.observed) {
    if (seen.observation == focus_) {
      over_g = &seen.over_g;
      continue;
    }
    std::vector<double> next;
    for (double w : weight) {
      for (std::size_t t = 0; t < kGrades; ++t) {
        next.push_back(w * (seen.likelihood[t] - (t + 1 < kGrades ? seen.likelihood[t + 1] : 0)));
      }
    }
    weight = std::move(next);
  }
  std::vector<double> cells;
  for (double w : weight) {
    for (std::size_t g = 0; g < kGrades; ++g) cells.push_back(w * (*over_g)[g]);
  }
  CauseSums sums;
  sums.values = values_;
  const auto contract = [&](const double* table, double* into) {
    for (std::size_t k = 0; k < cells_; ++k) {
      const double w = cells[k];
      if (w == 0) continue;
      for (std::size_t v = 0; v < values_; ++v) into[v] += w * table[k * values_ + v];
    }
  };
  sums.cause.assign(values_, 0);
  contract(all_.data(), sums.cause.data());
  double absolute = 0, total = 0;
  for (std::size_t k = 0; k < cells_; ++k) {
    for (std::size_t v = 0; v < values_; ++v) {
      absolute += std::abs(cells[k] * all_[k * values_ + v]);
    }
  }
  for (double x : sums.cause) total += x;
  sums.magnitude = total > 0 ? absolute / total : std::numeric_limits<double>::infinity();
  sums.at_most.assign(numbers_ * kThresholds * values_, 0);
  for (std::size_t i = 0; i < near_.size(); ++i) {
    for (std::size_t t = 0; t < kThresholds; ++t) {
      contract(tables_.data() + (i * kThresholds + t) * cells_ * values_,
               sums.at_most.data() + (near_[i] * kThresholds + t) * values_);
    }
  }
  const std::size_t conditions = by_conditions_.size() / (cells_ * values_);
  std::vector<double> by_conditions(conditions * values_, 0);
  for (std::size_t c = 0; c < conditions; ++c) {
    contract(by_conditions_.data() + c * cells_ * values_, by_conditions.data() + c * values_);
  }
  for (std::size_t i = 0; i < far_.size(); ++i) {
    for (std::size_t t = 0; t < kThresholds; ++t) {
      double* into = sums.at_most.data() + (far_[i] * kThresholds + t) * values_;
      const double* p = far_at_most_.data() + (i * kThresholds + t) * conditions;
      for (std::size_t c = 0; c < conditions; ++c) {
        for (std::size_t v = 0; v < values_; ++v) into[v] += p[c] * by_conditions[c * values_ + v];
      }
    }
  }
  return sums;
}

std::size_t ProductTables::bytes() const {
  return sizeof *this + sizeof(double) * (all_.size() + tables_.size() + by_conditions_.size() +
                                          far_at_most_.size());
}

}  // namespace faultodds::diagnosis
