// What a model keeps within its memory budget: who goes when it is full, and what is made once.
#include <atomic>
#include <catch2/catch.hpp>
#include <memory>
#include <stdexcept>
#include <thread>
#include <vector>

#include "core/diagnosis/plan_cache.h"
#include "core/memory_account.h"

using faultodds::MemoryAccount;
using faultodds::diagnosis::PlanCache;

namespace {

struct Plan {
  std::uint32_t of = 0;
  std::size_t size = 0;
  std::size_t bytes() const { return size; }
};

using Cache = PlanCache<Plan>;

constexpr std::size_t kLarge = 100'000;  // beside which what a cache adds of its own is little

std::uint32_t got(Cache& cache, std::uint32_t key, int* made = nullptr, std::size_t size = kLarge) {
  return cache
      .get({key},
           [&] {
             if (made != nullptr) ++*made;
             return std::make_shared<const Plan>(Plan{key, size});
           })
      ->of;
}

}  // namespace

TEST_CASE("a memory account gives what is left and no more") {
  MemoryAccount account(100);
  CHECK(account.take(60));
  CHECK_FALSE(account.take(41));
  CHECK(account.used() == 60);
  CHECK(account.take(40));
  CHECK(account.used() == account.budget());
  account.give_back(60);
  CHECK(account.used() == 40);
  CHECK(account.take(60));
}

TEST_CASE("a memory account refuses more than its budget, however large") {
  MemoryAccount account(100);
  CHECK_FALSE(account.take(101));
  CHECK_FALSE(account.take(static_cast<std::size_t>(-1)));
  CHECK(account.take(1));
  CHECK_FALSE(account.take(static_cast<std::size_t>(-1)));
  CHECK(account.used() == 1);
}

TEST_CASE("threads together take no more from a memory account than there is") {
  MemoryAccount account(1'000);
  std::atomic<int> taken{0};
  std::vector<std::thread> threads;
  for (int t = 0; t < 4; ++t) {
    threads.emplace_back([&] {
      for (int i = 0; i < 1'000; ++i) taken += account.take(3) ? 1 : 0;
    });
  }
  for (auto& thread : threads) thread.join();
  CHECK(taken == 333);
  CHECK(account.used() == 999);
}

TEST_CASE("a plan is made once while it is kept") {
  MemoryAccount account(10 * kLarge);
  Cache cache(account);
  int made = 0;
  for (int i = 0; i < 3; ++i) CHECK(got(cache, 7, &made) == 7);
  CHECK(made == 1);
  CHECK(cache.counts().made == 1);
  CHECK(cache.counts().from_cache == 2);
  CHECK(cache.counts().kept == 1);
  CHECK(cache.counts().bytes == account.used());
}

TEST_CASE("the plan unused longest goes first") {
  MemoryAccount account(2 * kLarge + kLarge / 2);
  Cache cache(account);
  int made = 0;
  got(cache, 1, &made);
  got(cache, 2, &made);
  got(cache, 1, &made);
  got(cache, 3, &made);  // in place of 2
  REQUIRE(made == 3);
  CHECK(cache.counts().evicted == 1);
  got(cache, 1, &made);
  got(cache, 3, &made);
  CHECK(made == 3);
  got(cache, 2, &made);
  CHECK(made == 4);
}

TEST_CASE("a plan past the budget is given but not kept") {
  MemoryAccount account(kLarge / 2);
  Cache cache(account);
  int made = 0;
  CHECK(got(cache, 1, &made) == 1);
  CHECK(got(cache, 1, &made) == 1);
  CHECK(made == 2);
  CHECK(cache.counts().kept == 0);
  CHECK(cache.counts().bytes == 0);
  CHECK(account.used() == 0);
}

TEST_CASE("what is kept never passes the budget") {
  MemoryAccount account(5 * kLarge);
  Cache cache(account);
  for (std::uint32_t key = 0; key < 200; ++key) {
    got(cache, key, nullptr, kLarge / (1 + key % 7));
    CHECK(account.used() <= account.budget());
    CHECK(cache.counts().bytes == account.used());
  }
  CHECK(cache.counts().kept > 0);
  CHECK(cache.counts().kept + cache.counts().evicted == cache.counts().made);
}

TEST_CASE("a plan in use outlives its place in the cache") {
  MemoryAccount account(kLarge + kLarge / 2);
  Cache cache(account);
  const auto held = cache.get({1}, [] { return std::make_shared<const Plan>(Plan{1, kLarge}); });
  got(cache, 2);
  CHECK(cache.counts().evicted == 1);
  CHECK(held->of == 1);
}

TEST_CASE("a plan that several threads want is made by one of them") {
  MemoryAccount account(10 * kLarge);
  Cache cache(account);
  std::atomic<int> made{0}, waiting{0};
  std::vector<std::shared_ptr<const Plan>> plans(8);
  std::vector<std::thread> threads;
  for (auto& plan : plans) {
    threads.emplace_back([&] {
      ++waiting;
      plan = cache.get({1}, [&] {
        ++made;
        while (waiting < 8) std::this_thread::yield();
        return std::make_shared<const Plan>(Plan{1, kLarge});
      });
    });
  }
  for (auto& thread : threads) thread.join();
  CHECK(made == 1);
  for (const auto& plan : plans) CHECK(plan == plans[0]);
}

TEST_CASE("a plan that could not be made is made by the next who wants it") {
  MemoryAccount account(10 * kLarge);
  Cache cache(account);
  CHECK_THROWS_AS(
      cache.get({1}, []() -> std::shared_ptr<const Plan> { throw std::runtime_error("no"); }),
      std::runtime_error);
  CHECK(account.used() == 0);
  int made = 0;
  CHECK(got(cache, 1, &made) == 1);
  CHECK(made == 1);
}

TEST_CASE("room is made by dropping plans, and refused where dropping all is not enough") {
  MemoryAccount account(3 * kLarge + kLarge / 2);
  Cache cache(account);
  for (std::uint32_t key = 0; key < 3; ++key) got(cache, key);
  CHECK(cache.make_room(2 * kLarge));
  CHECK(cache.counts().kept == 1);
  CHECK_FALSE(cache.make_room(2 * kLarge));
  CHECK(cache.counts().kept == 0);
  CHECK(account.used() == 2 * kLarge);
}
