# Debian packages, by CPack: libfaultodds2, libfaultodds-dev, faultodds-http, faultodds-tools. Included last,
# with -DFAULTODDS_DEBIAN=ON. Here is what packages have and a plain installation does not;
# the libraries and programs themselves are installed where they are built.
find_program(GZIP gzip REQUIRED)
find_program(HELP2MAN help2man REQUIRED)
set(debian_dir ${CMAKE_CURRENT_LIST_DIR})
set(debian_out ${PROJECT_BINARY_DIR}/debian)
file(MAKE_DIRECTORY ${debian_out})
get_target_property(faultodds_soversion faultodds SOVERSION)

set(CPACK_GENERATOR DEB)
set(CPACK_VERBATIM_VARIABLES ON)
set(CPACK_PACKAGE_NAME faultodds)
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGE_CONTACT "faultodds maintainers <maintainers@faultodds.invalid>"
    CACHE STRING "Maintainer named in the Debian packages")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_PACKAGE_DIRECTORY ${PROJECT_BINARY_DIR}/packages)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_ALL runtime development)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS_PRIVATE_DIRS ${PROJECT_BINARY_DIR}/capi)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)

# debian_package(<component> <package> <section> <synopsis> <description>)
function(debian_package component package section synopsis description)
  string(TOUPPER ${component} part)
  set(CPACK_DEBIAN_${part}_PACKAGE_NAME ${package} PARENT_SCOPE)
  set(CPACK_DEBIAN_${part}_PACKAGE_SECTION ${section} PARENT_SCOPE)
  set(CPACK_DEBIAN_${part}_DESCRIPTION "${synopsis}\n${description}" PARENT_SCOPE)
  install(FILES ${debian_dir}/copyright ${debian_out}/changelog.gz
          DESTINATION share/doc/${package} COMPONENT ${component})
endfunction()

# debian_manual(<target> <section> <component> <synopsis>): the manual page, from what --help prints.
function(debian_manual target section component synopsis)
  set(page ${debian_out}/${target}.${section})
  add_custom_command(
    OUTPUT ${page}.gz
    COMMAND ${HELP2MAN} --no-info --section=${section} --name=${synopsis} --source=faultodds
            --version-string=${PROJECT_VERSION} --output=${page} $<TARGET_FILE:${target}>
    COMMAND ${GZIP} -9nf ${page}
    DEPENDS ${target} VERBATIM)
  add_custom_target(${target}-manual ALL DEPENDS ${page}.gz)
  install(FILES ${page}.gz DESTINATION share/man/man${section} COMPONENT ${component})
endfunction()

execute_process(COMMAND ${GZIP} -9nc ${debian_dir}/changelog OUTPUT_FILE ${debian_out}/changelog.gz
                COMMAND_ERROR_IS_FATAL ANY)
set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${debian_dir}/changelog)

# What dpkg-shlibdeps of other packages reads, and the trigger that runs ldconfig.
file(WRITE ${debian_out}/triggers "activate-noawait ldconfig\n")
file(CONFIGURE OUTPUT ${debian_out}/shlibs
     CONTENT "libfaultodds ${faultodds_soversion} libfaultodds${faultodds_soversion} (>= ${PROJECT_VERSION})\n")
install(FILES ${debian_dir}/lintian-overrides DESTINATION share/lintian/overrides
        RENAME libfaultodds${faultodds_soversion} COMPONENT runtime)

set(what "faultodds tells which part of a hydraulic circuit has probably failed and
which test to make next, from a description of the circuit and what was seen.")
set(library libfaultodds${faultodds_soversion})
debian_package(runtime ${library} libs "ranks hydraulic suspects and tests - shared library"
  "${what}\n.\nThis package holds the shared library.")
set(CPACK_DEBIAN_RUNTIME_PACKAGE_CONTROL_EXTRA ${debian_out}/shlibs ${debian_out}/triggers)

debian_package(development libfaultodds-dev libdevel "ranks hydraulic suspects and tests - development files"
  "${what}\n.\nThis package holds the C header and the files for CMake and pkg-config.")
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_DEPENDS "${library} (= ${PROJECT_VERSION})")

if(TARGET faultodds-http)
  list(APPEND CPACK_COMPONENTS_ALL http)
  debian_package(http faultodds-http net "ranks hydraulic suspects and tests - HTTP service"
    "${what}\n.\nThis package holds the HTTP adapter and its systemd service, which is not
started until it is enabled.")
  set(CPACK_DEBIAN_HTTP_PACKAGE_DEPENDS "${library} (>= ${PROJECT_VERSION})")
  debian_manual(faultodds-http 1 http "rank hydraulic suspects and next tests over HTTP")
  set(http_debian ${PROJECT_SOURCE_DIR}/bindings/http/debian)
  set(CPACK_DEBIAN_HTTP_PACKAGE_CONTROL_EXTRA
      ${http_debian}/conffiles ${http_debian}/postinst ${http_debian}/prerm ${http_debian}/postrm)
  install(FILES ${http_debian}/faultodds-http.service DESTINATION /lib/systemd/system COMPONENT http)
  install(FILES ${http_debian}/faultodds-http.default DESTINATION /etc/default RENAME faultodds-http
          COMPONENT http)
  # The web element, compiled by npm: CMake takes it from where it was put and builds none.
  set(FAULTODDS_WEB_ELEMENT "" CACHE PATH "Directory dist of bindings/web, to go into faultodds-http")
  if(FAULTODDS_WEB_ELEMENT)
    install(DIRECTORY ${FAULTODDS_WEB_ELEMENT}/ DESTINATION share/faultodds-http/site/faultodds-web
            COMPONENT http FILES_MATCHING PATTERN "*.js" PATTERN "*.d.ts")
  endif()
endif()

if(TARGET faultodds-priors)
  list(APPEND CPACK_COMPONENTS_ALL priors)
  debian_package(priors faultodds-tools utils "ranks hydraulic suspects and tests - priors from work orders"
    "${what}\n.\nThis package holds the command faultodds-priors, which learns prior packs from
closed work orders.")
  debian_manual(faultodds-priors 1 priors "prior packs from closed work orders")
  if(TARGET faultodds-circuit)
    debian_manual(faultodds-circuit 1 priors "checks, explains, compares and draws circuit documents")
  endif()
endif()

include(CPack)
