# Builds for Windows, x86-64, on Debian with the package g++-mingw-w64-x86-64-posix: the variant with the
# standard threads. Programs that CMake runs are run by Wine.
set(CMAKE_SYSTEM_NAME Windows)
set(CMAKE_SYSTEM_PROCESSOR AMD64)
set(CMAKE_C_COMPILER x86_64-w64-mingw32-gcc-posix)
set(CMAKE_CXX_COMPILER x86_64-w64-mingw32-g++-posix)
set(CMAKE_RC_COMPILER x86_64-w64-mingw32-windres)
set(CMAKE_FIND_ROOT_PATH /usr/x86_64-w64-mingw32)
set(CMAKE_FIND_ROOT_PATH_MODE_PROGRAM NEVER)
foreach(kind LIBRARY INCLUDE PACKAGE)
  set(CMAKE_FIND_ROOT_PATH_MODE_${kind} ONLY)
endforeach()
set(CMAKE_CROSSCOMPILING_EMULATOR wine)
foreach(other XMLBIF HTTP PRIORS_COMMAND CIRCUIT_COMMAND)  # what needs libraries that are not there
  set(FAULTODDS_${other} OFF CACHE BOOL "")
endforeach()
set(CMAKE_EXE_LINKER_FLAGS_INIT -static)  # else a program looks for the compiler's libraries beside it
