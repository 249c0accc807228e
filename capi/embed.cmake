# Writes OUTPUT, a C++ source that holds the bytes of INPUT as the string_view
# faultodds::documents::NAME. Run as: cmake -DINPUT=... -DOUTPUT=... -DNAME=... -P embed.cmake
file(READ "${INPUT}" bytes HEX)
string(REGEX REPLACE "([0-9a-f][0-9a-f])" "'\\\\x\\1'," bytes "${bytes}")
string(REGEX REPLACE "(('[^']*',)('[^']*',)('[^']*',)('[^']*',)('[^']*',)('[^']*',)('[^']*',)('[^']*',))"
       "\\1\n    " bytes "${bytes}")
file(WRITE "${OUTPUT}.new" "#include \"capi/documents/embedded.h\"

namespace faultodds::documents {
namespace {
constexpr char kBytes[] = {
    ${bytes}
};
}  // namespace
extern const std::string_view ${NAME};
const std::string_view ${NAME}{kBytes, sizeof kBytes};
}  // namespace faultodds::documents
")
file(COPY_FILE "${OUTPUT}.new" "${OUTPUT}" ONLY_IF_DIFFERENT)
file(REMOVE "${OUTPUT}.new")
