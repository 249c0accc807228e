# Builds for Linux on x86-64 or aarch64 (FAULTODDS_MACHINE) from glibc 2.17 on, with the C++ library inside: by Zig's C
# and C++ compilers. FAULTODDS_TOOLS has them as cc, c++, ar and ranlib, and Expat as include/ and lib/; natives makes it.
set(CMAKE_SYSTEM_NAME Linux)
set(CMAKE_SYSTEM_PROCESSOR ${FAULTODDS_MACHINE})
set(CMAKE_TRY_COMPILE_PLATFORM_VARIABLES FAULTODDS_MACHINE FAULTODDS_TOOLS)
set(CMAKE_CROSSCOMPILING TRUE)
set(CMAKE_C_COMPILER ${FAULTODDS_TOOLS}/cc)
set(CMAKE_CXX_COMPILER ${FAULTODDS_TOOLS}/c++)
set(CMAKE_AR ${FAULTODDS_TOOLS}/ar)
set(CMAKE_RANLIB ${FAULTODDS_TOOLS}/ranlib)
set(CMAKE_FIND_ROOT_PATH ${FAULTODDS_TOOLS})
set(CMAKE_FIND_ROOT_PATH_MODE_PROGRAM NEVER)
foreach(kind LIBRARY INCLUDE PACKAGE)
  set(CMAKE_FIND_ROOT_PATH_MODE_${kind} ONLY)
endforeach()
foreach(other TESTS HTTP PRIORS_COMMAND CIRCUIT_COMMAND EXAMPLES)
  set(FAULTODDS_${other} OFF CACHE BOOL "")
endforeach()
# Boost 1.74 has bases that C++17 took out and Zig's C++ library only has on demand.
set(CMAKE_CXX_FLAGS_INIT "-D_LIBCPP_ENABLE_CXX17_REMOVED_UNARY_BINARY_FUNCTION")
# What it registers to be run at exit Zig's start-up files do not take back when it is unloaded, as Node.js does before it exits: it
# stays.
set(CMAKE_SHARED_LINKER_FLAGS_INIT "-s -Wl,-z,nodelete")
