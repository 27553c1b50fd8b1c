# What is installed, and the two Debian packages made of it: the program (component "program"), and
# the library with its headers ("development").

include(CMakePackageConfigHelpers)

# The rooms that the library is made of, and all of them under one name.
set(INKWANE_LIBRARY_ROOMS colour bath treatment scan scanner target grid align region change finding
    vet course map results report assess)
list(TRANSFORM INKWANE_LIBRARY_ROOMS PREPEND inkwane_ OUTPUT_VARIABLE rooms)
add_library(inkwane_library INTERFACE)
target_link_libraries(inkwane_library INTERFACE inkwane_assess)
target_compile_features(inkwane_library INTERFACE cxx_std_20)
set_target_properties(inkwane_library PROPERTIES EXPORT_NAME inkwane)

set(package ${CMAKE_INSTALL_LIBDIR}/cmake/inkwane)
install(TARGETS ${rooms} inkwane_library EXPORT inkwaneTargets
        ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR}/inkwane COMPONENT development)
install(EXPORT inkwaneTargets NAMESPACE inkwane:: DESTINATION ${package} COMPONENT development)
install(DIRECTORY include/inkwane DESTINATION ${CMAKE_INSTALL_INCLUDEDIR} COMPONENT development)
configure_package_config_file(scripts/packaging/inkwaneConfig.cmake.in ${PROJECT_BINARY_DIR}/inkwaneConfig.cmake
                              INSTALL_DESTINATION ${package})
# 0.x: what a minor version changes may break its callers.
write_basic_package_version_file(${PROJECT_BINARY_DIR}/inkwaneConfigVersion.cmake
                                 COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/inkwaneConfig.cmake ${PROJECT_BINARY_DIR}/inkwaneConfigVersion.cmake
        DESTINATION ${package} COMPONENT development)

# Man pages and completions come from the program's own description of its commands.
set(described ${PROJECT_BINARY_DIR}/described)
add_custom_command(OUTPUT ${described}/_inkwane
  COMMAND ${CMAKE_COMMAND} -E rm -rf ${described}
  COMMAND inkwane describe ${described}
  COMMAND sh -c "gzip -9n ${described}/man/*.1"
  DEPENDS inkwane VERBATIM)
add_custom_target(inkwane_described ALL DEPENDS ${described}/_inkwane)
install(TARGETS inkwane RUNTIME COMPONENT program)
install(DIRECTORY ${described}/man/ DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 COMPONENT program)
install(FILES ${described}/inkwane.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions
        RENAME inkwane COMPONENT program)
install(FILES ${described}/_inkwane DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions
        COMPONENT program)
install(FILES docs/third-party.md DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)
install(FILES LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR} RENAME copyright COMPONENT program)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_CONTACT "the inkwane developers <inkwane@invalid>")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_ALL program development)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION graphics)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_NAME inkwane)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_SHLIBDEPS ON)
# The report's type and the pictures' lettering: fonts are no shared libraries.
set(CPACK_DEBIAN_PROGRAM_PACKAGE_DEPENDS "fonts-dejavu-core, fonts-lato, fonts-linuxlibertine")
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_NAME libinkwane-dev)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_DEPENDS
    "pkg-config, libopencv-dev, liblcms2-dev, libtiff-dev, libpng-dev, libjpeg62-turbo-dev, \
libtomlplusplus-dev, nlohmann-json3-dev, libpugixml-dev, libfmt-dev, libcairo2-dev, libpango1.0-dev, \
libqpdf-dev, zlib1g-dev, libeigen3-dev, libexif-dev, libhwy-dev, libssl-dev")
set(CPACK_COMPONENT_PROGRAM_DESCRIPTION "${PROJECT_DESCRIPTION}")
set(CPACK_COMPONENT_DEVELOPMENT_DESCRIPTION "Library and headers of inkwane, for C++20")
include(CPack)
