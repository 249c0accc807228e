# For another machine than this one: Boost, Eigen, nlohmann-json and Catch2, of which only headers are used, from
# the host. A folder of links stands before the compiler, since the host's /usr/include would also show it
# the host's C library.
set(faultodds_host_headers ${PROJECT_BINARY_DIR}/headers)
file(MAKE_DIRECTORY ${faultodds_host_headers})
function(faultodds_host_header folder target)
  find_path(FAULTODDS_HOST_${folder} ${folder} PATHS /usr/include /usr/include/eigen3 /usr/local/include NO_DEFAULT_PATH
            NO_CMAKE_FIND_ROOT_PATH REQUIRED)
  file(CREATE_LINK ${FAULTODDS_HOST_${folder}}/${folder} ${faultodds_host_headers}/${folder} SYMBOLIC)
  add_library(${target} INTERFACE IMPORTED GLOBAL)
  target_include_directories(${target} SYSTEM INTERFACE ${faultodds_host_headers})
endfunction()
faultodds_host_header(boost Boost::headers)
faultodds_host_header(Eigen Eigen3::Eigen)
faultodds_host_header(nlohmann nlohmann_json::nlohmann_json)
if(FAULTODDS_TESTS)
  faultodds_host_header(catch2 Catch2::Catch2)
endif()
