// The inner loops of propagation, over one case or over several side by side. Numbers of W cases
// lie next to each other ("lanes"); every lane is computed by the same operations in the same order
// as a single case, so that a case's result does not depend on its company. Only junction_tree.cpp
// and lane_kernel.h use this.
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>

// Wider vectors where the processor has them, chosen at load time. The operations are the same (no
// fused multiply-add: the build says -ffp-contract=off), so results are too, to the bit.
#if defined(__x86_64__) && defined(__linux__) && defined(__GNUC__) && !defined(__clang__) && \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define FAULTODDS_LANE_CLONES __attribute__((target_clones("avx2", "default")))
#else
#define FAULTODDS_LANE_CLONES
#endif
#define FAULTODDS_LANE_INLINE inline __attribute__((always_inline))

namespace faultodds::network::lanes {

// value[i] *= factor[map[i]]
template <std::size_t W, typename Place>
FAULTODDS_LANE_INLINE void multiply_by(const Place* map, const double* factor, std::size_t n,
                                       double* value) {
  for (std::size_t i = 0; i < n; ++i) {
    const double* f = factor + map[i] * W;
    double* v = value + i * W;
    for (std::size_t l = 0; l < W; ++l) v[l] *= f[l];
  }
}

// sum[map[i]] += value[i], where sum has `cells`. Into few cells four sums are kept at once: one
// alone would wait for its last addition each time.
constexpr std::size_t kFewCells = 16;
template <std::size_t W, typename Place>
FAULTODDS_LANE_INLINE void add_by(const Place* map, const double* value, std::size_t n, double* sum,
                                  std::size_t cells) {
  const auto add = [](const double* v, double* s) {
    for (std::size_t l = 0; l < W; ++l) s[l] += v[l];
  };
  std::size_t i = 0;
  if (cells <= kFewCells && n >= 2 * kFewCells) {
    double part[4 * kFewCells * W];
    const std::size_t size = cells * W;
    std::fill_n(part, 4 * size, 0.0);
    for (; i + 4 <= n; i += 4) {
      for (std::size_t k = 0; k < 4; ++k) {
        add(value + (i + k) * W, part + k * size + map[i + k] * W);
      }
    }
    for (std::size_t k = 0; k < size; ++k) {
      sum[k] += (part[k] + part[size + k]) + (part[2 * size + k] + part[3 * size + k]);
    }
  }
  for (; i < n; ++i) add(value + i * W, sum + map[i] * W);
}

// up[s] = sum of value over segment s; ratio[s] = up[s] / before[s]; largest = max of ratio.
template <std::size_t W>
FAULTODDS_LANE_INLINE void sum_segments(const std::uint32_t* bound, const double* value,
                                        const double* before, std::size_t cells, double* up,
                                        double* ratio, double* largest) {
  for (std::size_t l = 0; l < W; ++l) largest[l] = 0;
  for (std::size_t s = 0; s < cells; ++s) {
    double sum[W] = {};
    for (std::uint32_t i = bound[s]; i < bound[s + 1]; ++i) {
      for (std::size_t l = 0; l < W; ++l) sum[l] += value[i * W + l];
    }
    const double scale = before[s] > 0 ? 1 / before[s] : 0;
    for (std::size_t l = 0; l < W; ++l) {
      up[s * W + l] = sum[l];
      ratio[s * W + l] = sum[l] * scale;
      largest[l] = std::max(largest[l], ratio[s * W + l]);
    }
  }
}

// entry[i] = value[i] * belief[s] / up[s] for the entries of segment s. `shared` says that value
// and up are the tree's, the same for every lane.
template <std::size_t W, bool shared>
FAULTODDS_LANE_INLINE void weigh_segments(const std::uint32_t* bound, const double* value,
                                          const double* up, const double* belief, std::size_t cells,
                                          double* entry) {
  constexpr std::size_t V = shared ? 1 : W;
  for (std::size_t s = 0; s < cells; ++s) {
    double scale[W];
    for (std::size_t l = 0; l < W; ++l) {
      const double u = up[s * V + (shared ? 0 : l)];
      scale[l] = u > 0 ? belief[s * W + l] / u : 0;
    }
    for (std::uint32_t i = bound[s]; i < bound[s + 1]; ++i) {
      for (std::size_t l = 0; l < W; ++l) {
        entry[i * W + l] = value[i * V + (shared ? 0 : l)] * scale[l];
      }
    }
  }
}

}  // namespace faultodds::network::lanes
