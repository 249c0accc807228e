# How Debian packages are built: under /usr, hardened, without tests and examples. Included before what is
# built; what is in the packages is in packages.cmake.
set(CMAKE_INSTALL_PREFIX /usr)
foreach(other TESTS EXAMPLES)
  set(FAULTODDS_${other} OFF)
endforeach()
add_compile_options(-fstack-protector-strong -D_FORTIFY_SOURCE=2)
add_link_options(-Wl,-z,relro,-z,now)
