// Catch2's own main, compiled once for every test program. No tests here.
#define CATCH_CONFIG_MAIN
#include <catch2/catch.hpp>
