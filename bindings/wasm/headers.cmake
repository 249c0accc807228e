# Boost and nlohmann-json, of which only headers are used, from the host. A folder of links stands before
# the compiler, since the host's /usr/include would also show it the host's C library.
set(faultodds_wasm_headers ${PROJECT_BINARY_DIR}/headers)
file(MAKE_DIRECTORY ${faultodds_wasm_headers})
foreach(name boost nlohmann)
  find_path(FAULTODDS_HOST_${name} ${name} PATHS /usr/include /usr/local/include NO_DEFAULT_PATH
            NO_CMAKE_FIND_ROOT_PATH REQUIRED)
  file(CREATE_LINK ${FAULTODDS_HOST_${name}}/${name} ${faultodds_wasm_headers}/${name} SYMBOLIC)
endforeach()
foreach(target Boost::headers nlohmann_json::nlohmann_json)
  add_library(${target} INTERFACE IMPORTED GLOBAL)
  target_include_directories(${target} SYSTEM INTERFACE ${faultodds_wasm_headers})
endforeach()
