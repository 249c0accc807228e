// The store of cases itself, without HTTP. What it does when programs are killed is in
// test_case_crashes.py.
#include "bindings/http/case_store.h"

#include <atomic>
#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <thread>
#include <vector>

#ifdef FAULTODDS_HTTP_SQLITE
using namespace faultodds_http;

namespace {

struct Folder {
  Folder() {
    char name[] = "/tmp/faultodds-cases-XXXXXX";
    REQUIRE(::mkdtemp(name) != nullptr);
    path = name;
  }
  ~Folder() { std::filesystem::remove_all(path); }
  std::filesystem::path path;
};

struct Store {
  explicit Store(const CaseStoreSettings& settings = {})
      : store(open_sqlite_cases(folder.path / "cases.db", settings)) {}
  Folder folder;
  std::unique_ptr<CaseStore> store;
};

CaseWrite create(const std::string& id, std::string_view text) {
  CaseWrite write;
  write.entry = {id, {"life", 1}, "lift", 1'800'000'000};
  write.text = text;
  return write;
}

CaseWrite replace(const std::string& id, std::int64_t number, std::string_view text) {
  CaseWrite write = create(id, text);
  write.before = Revision{"life", number};
  write.entry.revision.number = number + 1;
  return write;
}

bool written(const WriteResult& result) { return std::holds_alternative<Written>(result); }
bool conflicts(const WriteResult& result) { return std::holds_alternative<Conflict>(result); }

std::optional<StoredCase> found(CaseStore& store, const std::string& id) {
  auto result = store.find(id);
  REQUIRE(std::holds_alternative<std::optional<StoredCase>>(result));
  return std::get<0>(std::move(result));
}

bool remembers(CaseStore& store, const std::string& key) {
  const auto result = store.remembered(key);
  REQUIRE(result.index() == 0);
  return std::get<0>(result).has_value();
}

}  // namespace

TEST_CASE("A case is found as it was written", "[http]") {
  Store s;
  const std::string text = "bytes \xc3\xa4 'quoted' \\u0000 \n";
  REQUIRE(written(s.store->write(create("a", text))));
  const auto stored = found(*s.store, "a");
  REQUIRE(stored);
  CHECK(stored->text == text);
  CHECK(stored->entry.id == "a");
  CHECK(stored->entry.revision == Revision{"life", 1});
  CHECK(stored->entry.circuit == "lift");
  CHECK(stored->entry.changed == 1'800'000'000);
  CHECK_FALSE(found(*s.store, "b"));
}

TEST_CASE("A write that names another revision or another life changes nothing", "[http]") {
  Store s;
  REQUIRE(written(s.store->write(create("a", "1"))));
  CHECK(conflicts(s.store->write(create("a", "2"))));
  CHECK(conflicts(s.store->write(replace("a", 2, "2"))));
  CHECK(conflicts(s.store->write(replace("b", 1, "2"))));
  CaseWrite other_life = replace("a", 1, "2");
  other_life.before->life = "another";
  CHECK(conflicts(s.store->write(other_life)));
  CHECK(found(*s.store, "a")->text == "1");
  CHECK(written(s.store->write(replace("a", 1, "2"))));
  CHECK(found(*s.store, "a")->text == "2");
}

TEST_CASE("A write with a known key is not made, and the first answer comes back", "[http]") {
  Store s;
  CaseWrite first = create("a", "1");
  first.answer = KeyedAnswer{"key", "print", 201, "a", "\"etag\"", "body"};
  REQUIRE(written(s.store->write(first)));
  CaseWrite second = create("b", "2");
  second.answer = KeyedAnswer{"key", "other print", 201, "b", "", ""};
  const WriteResult result = s.store->write(second);
  REQUIRE(std::holds_alternative<KeyedAnswer>(result));
  const auto& known = std::get<KeyedAnswer>(result);
  CHECK(known.fingerprint == "print");
  CHECK(known.status == 201);
  CHECK(known.id == "a");
  CHECK(known.etag == "\"etag\"");
  CHECK(known.body == "body");
  CHECK_FALSE(found(*s.store, "b"));
}

TEST_CASE("A key whose write was in conflict is not remembered", "[http]") {
  Store s;
  CaseWrite write = replace("a", 1, "2");
  write.answer = KeyedAnswer{"key", "print", 200, "a", "", ""};
  CHECK(conflicts(s.store->write(write)));
  CHECK_FALSE(remembers(*s.store, "key"));
}

TEST_CASE("Keys beyond the capacity are forgotten, the oldest first", "[http]") {
  CaseStoreSettings settings;
  settings.key_capacity = 3;
  Store s(settings);
  for (int i = 0; i < 8; ++i) {
    const std::string name = "k" + std::to_string(i);
    CaseWrite write = create(name, "1");
    write.answer = KeyedAnswer{name, "print", 201, name, "", ""};
    REQUIRE(written(s.store->write(write)));
  }
  for (int i = 0; i < 8; ++i) {
    INFO(i);
    CHECK(remembers(*s.store, "k" + std::to_string(i)) == (i >= 5));
  }
}

TEST_CASE("A store that is full takes no more cases until one is deleted", "[http]") {
  CaseStoreSettings settings;
  settings.capacity = 1;
  Store s(settings);
  REQUIRE(written(s.store->write(create("a", "1"))));
  const WriteResult refused = s.store->write(create("b", "1"));
  REQUIRE(std::holds_alternative<Problem>(refused));
  CHECK(std::get<Problem>(refused).status == 507);
  CaseWrite erase = replace("a", 1, "");
  erase.erase = true;
  REQUIRE(written(s.store->write(erase)));
  CHECK(written(s.store->write(create("b", "1"))));
}

TEST_CASE("Many threads on one store lose no write and read only whole cases", "[http][threads]") {
  Store s;
  REQUIRE(written(s.store->write(create("a", "1"))));
  std::atomic<int> made{0};
  std::atomic<bool> torn{false};
  std::vector<std::thread> threads;
  for (int t = 0; t < 6; ++t) {
    threads.emplace_back([&] {
      for (int done = 0; done < 25;) {
        auto before = s.store->find("a");
        if (before.index() != 0 || !std::get<0>(before)) {
          torn = true;
          return;
        }
        const StoredCase& stored = *std::get<0>(before);
        const std::int64_t number = stored.entry.revision.number;
        if (stored.text != std::string(static_cast<std::size_t>(number), '1')) torn = true;
        const std::string text(static_cast<std::size_t>(number) + 1, '1');
        const WriteResult result = s.store->write(replace("a", number, text));
        if (std::holds_alternative<Problem>(result)) torn = true;
        if (written(result)) {
          ++done;
          ++made;
        }
        if (s.store->list("", 10).index() != 0) torn = true;
      }
    });
  }
  for (auto& thread : threads) thread.join();
  CHECK_FALSE(torn);
  CHECK(made == 150);
  CHECK(found(*s.store, "a")->entry.revision.number == 151);
}
#endif
