using System;
using System.IO;
using System.Runtime.InteropServices;

namespace Faultodds
{
    /// <summary>Finds the shared library, and its functions.</summary>
    internal static class Library
    {
        private const int SoVersion = 2;
        private static readonly IntPtr Handle = Load();

        /// <summary>Address of a function, or zero.</summary>
        internal static IntPtr Symbol(string name)
        {
            return IsWindows ? GetProcAddress(Handle, name)
                : IsMac ? MacSymbol(Handle, name)
                : LinuxSymbol(Handle, name);
        }

        // The path in the environment's FAULTODDS_LIBRARY, the file beside this assembly or in the folder
        // below it where a package puts it, the system's loader. The first that applies is used; if it cannot
        // be loaded, that is told.
        private static IntPtr Load()
        {
            string path = Environment.GetEnvironmentVariable("FAULTODDS_LIBRARY");
            if (string.IsNullOrEmpty(path))
            {
                string name = IsWindows ? "faultodds-" + SoVersion + ".dll"
                    : IsMac ? "libfaultodds." + SoVersion + ".dylib"
                    : "libfaultodds.so." + SoVersion;
                string here = Path.GetDirectoryName(typeof(Library).Assembly.Location) ?? "";
                string packed = Path.Combine(here, "runtimes", Platform(), "native", name);
                path = File.Exists(Path.Combine(here, name)) ? Path.Combine(here, name)
                    : File.Exists(packed) ? packed
                    : name;
            }
            const int now = 2; // RTLD_NOW
            IntPtr library = IsWindows ? LoadLibrary(path)
                : IsMac ? MacOpen(path, now)
                : LinuxOpen(path, now);
            if (library == IntPtr.Zero)
                throw new DllNotFoundException(
                    "the faultodds library could not be loaded from " + path
                    + "; set FAULTODDS_LIBRARY to its path");
            return library;
        }

        // As packages name them: linux-x64, win-x64, osx-arm64.
        private static string Platform()
        {
            return (IsWindows ? "win" : IsMac ? "osx" : "linux") + "-"
                + RuntimeInformation.ProcessArchitecture.ToString().ToLowerInvariant();
        }

        private static bool IsWindows { get { return RuntimeInformation.IsOSPlatform(OSPlatform.Windows); } }

        private static bool IsMac { get { return RuntimeInformation.IsOSPlatform(OSPlatform.OSX); } }

        [DllImport("kernel32", CharSet = CharSet.Unicode, SetLastError = true, EntryPoint = "LoadLibraryW")]
        private static extern IntPtr LoadLibrary(string path);

        [DllImport("kernel32", CharSet = CharSet.Ansi, ExactSpelling = true)]
        private static extern IntPtr GetProcAddress(IntPtr library, string name);

        [DllImport("libSystem.dylib", EntryPoint = "dlopen")]
        private static extern IntPtr MacOpen(string path, int mode);

        [DllImport("libSystem.dylib", EntryPoint = "dlsym")]
        private static extern IntPtr MacSymbol(IntPtr library, string name);

        [DllImport("libdl.so.2", EntryPoint = "dlopen")]
        private static extern IntPtr LinuxOpen(string path, int mode);

        [DllImport("libdl.so.2", EntryPoint = "dlsym")]
        private static extern IntPtr LinuxSymbol(IntPtr library, string name);
    }
}
