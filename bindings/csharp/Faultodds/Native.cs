using System;
using System.Collections.Generic;
using System.IO;
using System.Runtime.InteropServices;
using System.Text;

namespace Faultodds
{
    /// <summary>A model of the library. Calls keep it alive: disposing waits for those that run.</summary>
    internal sealed class ModelHandle : SafeHandle
    {
        internal ModelHandle(IntPtr model) : base(IntPtr.Zero, true)
        {
            SetHandle(model);
        }

        public override bool IsInvalid { get { return handle == IntPtr.Zero; } }

        protected override bool ReleaseHandle()
        {
            Native.ModelFree(handle);
            return true;
        }
    }

    /// <summary>An open case of the library.</summary>
    internal sealed class CaseHandle : SafeHandle
    {
        internal CaseHandle(IntPtr opened) : base(IntPtr.Zero, true)
        {
            SetHandle(opened);
        }

        public override bool IsInvalid { get { return handle == IntPtr.Zero; } }

        protected override bool ReleaseHandle()
        {
            Native.CaseFree(handle);
            return true;
        }
    }

    /// <summary>A network of the library. Calls keep it alive: disposing waits for those that run.</summary>
    internal sealed class NetworkHandle : SafeHandle
    {
        internal NetworkHandle(IntPtr network) : base(IntPtr.Zero, true)
        {
            SetHandle(network);
        }

        public override bool IsInvalid { get { return handle == IntPtr.Zero; } }

        protected override bool ReleaseHandle()
        {
            Native.NetworkFree(handle);
            return true;
        }
    }

    /// <summary>Keeps what the library reads where it is until it is disposed of.</summary>
    internal sealed class Pinned : IDisposable
    {
        private readonly List<GCHandle> handles = new List<GCHandle>();

        internal IntPtr Address(Array values)
        {
            GCHandle handle = GCHandle.Alloc(values, GCHandleType.Pinned);
            handles.Add(handle);
            return handle.AddrOfPinnedObject();
        }

        /// <summary>null is no text.</summary>
        internal Native.TextOf Text(byte[] text)
        {
            if (text == null) return new Native.TextOf();
            // An empty text is a text all the same, and has an address.
            return new Native.TextOf
            {
                At = Address(text.Length == 0 ? new byte[1] : text),
                Length = Native.Length(text),
            };
        }

        internal Native.TextOf Text(string text, string what)
        {
            return Text(string.IsNullOrEmpty(text) ? null : Native.Bytes(text, what));
        }

        public void Dispose()
        {
            foreach (GCHandle handle in handles) handle.Free();
            handles.Clear();
        }
    }

    /// <summary>The functions of the C interface that the binding uses, and how text and errors cross.
    /// They are bound by hand because DllImport can name neither a file chosen at run time nor one whose
    /// name differs between platforms.</summary>
    internal static class Native
    {
        private const int SoVersion = 2;
        private static readonly Encoding Utf8 = new UTF8Encoding(false, true);

        /// <summary>A class, so that null is NULL.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal sealed class CallOptions
        {
            internal UIntPtr StructSize;
            internal IntPtr Cancel;
        }

        [StructLayout(LayoutKind.Sequential)]
        internal struct ModelOptions
        {
            internal UIntPtr StructSize;
            internal ulong MemoryBudget;
            internal IntPtr AssetClass;
            internal UIntPtr AssetClassLength;
            internal IntPtr Cancel;
            internal ulong SearchSteps;
            internal uint SetsPerObservation;
            internal uint Modes;
            internal uint Observations;
            internal uint Reserved;
        }

        [StructLayout(LayoutKind.Sequential)]
        internal struct NetworkOptions
        {
            internal UIntPtr StructSize;
            internal ulong MemoryBudget;
            internal IntPtr Cancel;
        }

        [StructLayout(LayoutKind.Sequential)]
        internal struct CaseSummary
        {
            internal UIntPtr StructSize;
            internal IntPtr Method;
            internal double ErrorBound;
            internal double LogEvidence;
            internal uint CauseCount;
            internal uint TestCount;
        }

        [StructLayout(LayoutKind.Sequential)]
        internal struct CausesLine
        {
            internal UIntPtr StructSize;
            internal uint Observation;
            internal uint ShareCount;
            internal ulong ComponentCount;
            internal double ByDesign;
            internal double Elsewhere;
            internal double Nothing;
        }

        [StructLayout(LayoutKind.Sequential)]
        internal struct RankedTestLine
        {
            internal UIntPtr StructSize;
            internal uint Observation;
            internal int Energised;
            internal double InformationBits;
            internal double CauseBits;
            internal double Minutes;
            internal double BitsPerMinute;
        }

        /// <summary>A text among the members of a struct, and its length.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal struct TextOf
        {
            internal IntPtr At;
            internal UIntPtr Length;
        }

        [StructLayout(LayoutKind.Sequential)]
        internal struct NetworkEvidence
        {
            internal UIntPtr StructSize;
            internal uint Variable;
            internal int State;
            internal IntPtr Likelihood;
            internal UIntPtr LikelihoodCount;
        }

        [StructLayout(LayoutKind.Sequential)]
        internal struct RecordsOf
        {
            internal UIntPtr StructSize;
            internal TextOf Path;
            internal TextOf Text;
        }

        [StructLayout(LayoutKind.Sequential)]
        internal struct LearnOptions
        {
            internal UIntPtr StructSize;
            internal TextOf Source;
            internal TextOf Title;
            internal TextOf Mapping;
            internal TextOf Circuit;
            internal TextOf Judgement;
            internal double WorthJobs;
            internal int NoPooling;
            internal int ThroughCircuit;
            internal int LearnOutcomes;
            internal uint Threads;
            internal IntPtr Reject;
            internal IntPtr RejectContext;
            internal IntPtr Progress;
            internal IntPtr ProgressContext;
            internal IntPtr Cancel;
            internal uint AuditOrders;
            internal uint Reserved;
        }

        [StructLayout(LayoutKind.Sequential)]
        internal struct BacktestOptions
        {
            internal UIntPtr StructSize;
            internal TextOf Mapping;
            internal TextOf Before;
            internal TextOf After;
            internal TextOf AssetClass;
            internal double WorthJobs;
            internal double Isolated;
            internal ulong MostJobs;
            internal uint Threads;
            internal IntPtr Progress;
            internal IntPtr ProgressContext;
            internal IntPtr Cancel;
        }

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ProgressCallback(IntPtr context, ulong done);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int WriteCallback(IntPtr context, IntPtr text, UIntPtr length);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CasesAssessFunction(
            IntPtr[] cases, UIntPtr count, uint threads, CallOptions options, IntPtr statuses, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkLoadFunction(
            byte[] text, UIntPtr length, int format, ref NetworkOptions options, out IntPtr network,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate uint NetworkCountFunction(NetworkHandle network);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr NetworkNameFunction(NetworkHandle network, uint variable);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate uint StateCountFunction(NetworkHandle network, uint variable);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr StateNameFunction(NetworkHandle network, uint variable, uint state);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkQueryFunction(
            NetworkHandle network, IntPtr evidence, UIntPtr count, CallOptions options,
            [In, Out] double[] posteriors, UIntPtr capacity, out UIntPtr written, out double logEvidence,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int LearnFunction(
            ref RecordsOf orders, IntPtr exposure, ref LearnOptions options, out IntPtr pack, out IntPtr summary,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int MergeFunction(
            IntPtr[] packs, UIntPtr[] lengths, UIntPtr count, CallOptions options, out IntPtr merged,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int DiffFunction(
            byte[] before, UIntPtr beforeLength, byte[] after, UIntPtr afterLength, CallOptions options,
            out IntPtr difference, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int BacktestFunction(
            byte[] circuit, UIntPtr length, ref RecordsOf orders, ref BacktestOptions options, out IntPtr answer,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr VersionFunction();

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr StatusNameFunction(int status);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr ErrorTextFunction(IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate void FreeFunction(IntPtr owned);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int AssessJsonFunction(
            byte[] circuit, UIntPtr circuitLength, byte[] theCase, UIntPtr caseLength, byte[] priors,
            UIntPtr priorsLength, CallOptions options, out IntPtr answer, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelLoadFunction(
            byte[] circuit, UIntPtr circuitLength, byte[] priors, UIntPtr priorsLength,
            ref ModelOptions options, out IntPtr model, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate uint ModelCountFunction(ModelHandle model, int kind);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr ModelIdFunction(ModelHandle model, int kind, uint index);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate uint OutcomeCountFunction(ModelHandle model, uint observation);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr OutcomeIdFunction(ModelHandle model, uint observation, uint outcome);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int FindFunction(
            ModelHandle model, int kind, byte[] id, UIntPtr length, out uint index, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int DescribeFunction(
            ModelHandle model, CallOptions options, out IntPtr document, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelAssessFunction(
            ModelHandle model, byte[] theCase, UIntPtr length, CallOptions options, out IntPtr answer,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelNoteFunction(
            ModelHandle model, byte[] theCase, UIntPtr length, int format, CallOptions options, out IntPtr note,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelCloseFunction(
            ModelHandle model, byte[] theCase, UIntPtr caseLength, byte[] closing, UIntPtr closingLength,
            int format, CallOptions options, out IntPtr record, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseOpenFunction(ModelHandle model, out IntPtr opened, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseLikelihoodFunction(
            CaseHandle theCase, uint observation, double[] likelihood, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseObserveFunction(
            CaseHandle theCase, byte[] entry, UIntPtr length, CallOptions options, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseSetupFunction(
            CaseHandle theCase, byte[] step, UIntPtr length, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseRetractFunction(CaseHandle theCase, uint observation, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseAssessFunction(CaseHandle theCase, CallOptions options, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseSummaryFunction(CaseHandle theCase, ref CaseSummary summary, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CasePosteriorsFunction(
            CaseHandle theCase, [In, Out] double[] grades, UIntPtr capacity, out UIntPtr count, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseCausesFunction(
            CaseHandle theCase, uint rank, ref CausesLine causes, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseSharesFunction(
            CaseHandle theCase, uint rank, [In, Out] double[] probabilities, [In, Out] uint[] ends,
            UIntPtr capacity, [In, Out] uint[] components, UIntPtr componentCapacity, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseTestFunction(
            CaseHandle theCase, uint rank, ref RankedTestLine test, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseAnswerFunction(
            CaseHandle theCase, CallOptions options, out IntPtr answer, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CancelNewFunction(out IntPtr cancel, out IntPtr error);

        // In this order: what follows is looked up in the library.
        private static readonly IntPtr Library = Load();

        internal static readonly VersionFunction Version = Bind<VersionFunction>("version");
        internal static readonly StatusNameFunction StatusName = Bind<StatusNameFunction>("status_name");
        internal static readonly ErrorTextFunction ErrorMessage = Bind<ErrorTextFunction>("error_message");
        internal static readonly ErrorTextFunction ErrorPointer = Bind<ErrorTextFunction>("error_pointer");
        internal static readonly FreeFunction ErrorFree = Bind<FreeFunction>("error_free");
        internal static readonly FreeFunction Free = Bind<FreeFunction>("free");
        internal static readonly CancelNewFunction CancelNew = Bind<CancelNewFunction>("cancel_new");
        internal static readonly FreeFunction CancelFree = Bind<FreeFunction>("cancel_free");
        internal static readonly FreeFunction CancelNow = Bind<FreeFunction>("cancel_now");
        internal static readonly AssessJsonFunction AssessJson = Bind<AssessJsonFunction>("assess_json");
        internal static readonly ModelLoadFunction ModelLoad = Bind<ModelLoadFunction>("model_load");
        internal static readonly FreeFunction ModelFree = Bind<FreeFunction>("model_free");
        internal static readonly ModelCountFunction ModelCount = Bind<ModelCountFunction>("model_count");
        internal static readonly ModelIdFunction ModelId = Bind<ModelIdFunction>("model_id");
        internal static readonly FindFunction ModelFind = Bind<FindFunction>("model_find");
        internal static readonly OutcomeCountFunction OutcomeCount =
            Bind<OutcomeCountFunction>("model_outcome_count");
        internal static readonly OutcomeIdFunction OutcomeId = Bind<OutcomeIdFunction>("model_outcome_id");
        internal static readonly DescribeFunction Describe = Bind<DescribeFunction>("model_describe_json");
        internal static readonly ModelAssessFunction ModelAssess = Bind<ModelAssessFunction>("model_assess_json");
        internal static readonly ModelNoteFunction Note = Bind<ModelNoteFunction>("model_note");
        internal static readonly ModelNoteFunction Plan = Bind<ModelNoteFunction>("model_plan");
        internal static readonly ModelCloseFunction Close = Bind<ModelCloseFunction>("model_close");
        internal static readonly CaseOpenFunction CaseOpen = Bind<CaseOpenFunction>("case_open");
        internal static readonly FreeFunction CaseFree = Bind<FreeFunction>("case_free");
        internal static readonly CaseLikelihoodFunction CaseLikelihood =
            Bind<CaseLikelihoodFunction>("case_observe_likelihood");
        internal static readonly CaseObserveFunction CaseObserve = Bind<CaseObserveFunction>("case_observe_json");
        internal static readonly CaseRetractFunction CaseRetract = Bind<CaseRetractFunction>("case_retract");
        internal static readonly CaseSetupFunction CaseSetupDone = Bind<CaseSetupFunction>("case_setup_done");
        internal static readonly CaseAssessFunction CaseAssess = Bind<CaseAssessFunction>("case_assess");
        internal static readonly CaseSummaryFunction CaseReadSummary =
            Bind<CaseSummaryFunction>("case_read_summary");
        internal static readonly CasePosteriorsFunction CasePosteriors =
            Bind<CasePosteriorsFunction>("case_posteriors");
        internal static readonly CaseCausesFunction CaseCauses = Bind<CaseCausesFunction>("case_causes");
        internal static readonly CaseSharesFunction CaseShares = Bind<CaseSharesFunction>("case_shares");
        internal static readonly CaseTestFunction CaseTest = Bind<CaseTestFunction>("case_test");
        internal static readonly CaseAnswerFunction CaseAnswer = Bind<CaseAnswerFunction>("case_answer_json");

        internal static readonly CasesAssessFunction CasesAssess = Bind<CasesAssessFunction>("cases_assess");
        internal static readonly NetworkLoadFunction NetworkLoad = Bind<NetworkLoadFunction>("network_load");
        internal static readonly FreeFunction NetworkFree = Bind<FreeFunction>("network_free");
        internal static readonly NetworkCountFunction VariableCount =
            Bind<NetworkCountFunction>("network_variable_count");
        internal static readonly NetworkNameFunction VariableName =
            Bind<NetworkNameFunction>("network_variable_name");
        internal static readonly StateCountFunction StateCount = Bind<StateCountFunction>("network_state_count");
        internal static readonly StateNameFunction StateName = Bind<StateNameFunction>("network_state_name");
        internal static readonly NetworkQueryFunction NetworkQuery = Bind<NetworkQueryFunction>("network_query");
        internal static readonly LearnFunction Learn = Bind<LearnFunction>("priors_learn");
        internal static readonly MergeFunction Merge = Bind<MergeFunction>("priors_merge");
        internal static readonly DiffFunction Diff = Bind<DiffFunction>("priors_diff_json");
        internal static readonly BacktestFunction Backtest = Bind<BacktestFunction>("priors_backtest_json");

        /// <summary>Size of a struct, as its first member tells the library.</summary>
        internal static UIntPtr SizeOf<T>()
        {
            return new UIntPtr((uint)Marshal.SizeOf(typeof(T)));
        }

        /// <summary>A number for C, which would take a negative one for a large one.</summary>
        internal static long AtLeast(string name, long value, long least)
        {
            if (value >= least) return value;
            throw new ArgumentOutOfRangeException(name, value, "expected " + least + " or more");
        }

        /// <summary>UTF-8 bytes of a text; a lone surrogate is no Unicode and is refused here.</summary>
        internal static byte[] Bytes(string text, string what)
        {
            if (text == null) throw new ArgumentNullException(what);
            try
            {
                return Utf8.GetBytes(text);
            }
            catch (EncoderFallbackException problem)
            {
                throw new ArgumentException("a lone surrogate is no Unicode text", what, problem);
            }
        }

        internal static UIntPtr Length(byte[] text)
        {
            return text == null ? UIntPtr.Zero : new UIntPtr((uint)text.Length);
        }

        /// <summary>Copies a string that the library keeps.</summary>
        internal static string Text(IntPtr borrowed)
        {
            if (borrowed == IntPtr.Zero) return "";
            int length = 0;
            while (Marshal.ReadByte(borrowed, length) != 0) ++length;
            var bytes = new byte[length];
            Marshal.Copy(borrowed, bytes, 0, length);
            return Utf8.GetString(bytes);
        }

        /// <summary>Copies so many bytes of a string that the library keeps.</summary>
        internal static string Text(IntPtr borrowed, UIntPtr length)
        {
            var bytes = new byte[(int)length.ToUInt32()];
            Marshal.Copy(borrowed, bytes, 0, bytes.Length);
            return Utf8.GetString(bytes);
        }

        /// <summary>Copies a string that the library gave away, and frees it.</summary>
        internal static string Taken(IntPtr owned)
        {
            try
            {
                return Text(owned);
            }
            finally
            {
                Free(owned);
            }
        }

        /// <summary>Throws what a status other than OK means; frees the library's error.</summary>
        internal static void Check(int status, IntPtr error)
        {
            if (status == 0) return;
            try
            {
                throw new FaultoddsException(
                    Text(StatusName(status)), Text(ErrorMessage(error)), Text(ErrorPointer(error)));
            }
            finally
            {
                ErrorFree(error);
            }
        }

        private static T Bind<T>(string function) where T : class
        {
            string name = "faultodds_" + function;
            IntPtr address = IsWindows ? GetProcAddress(Library, name)
                : IsMac ? MacSymbol(Library, name)
                : LinuxSymbol(Library, name);
            if (address == IntPtr.Zero)
                throw new EntryPointNotFoundException(name + " is not in the faultodds library: it is older");
            return (T)(object)Marshal.GetDelegateForFunctionPointer(address, typeof(T));
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
                string here = Path.GetDirectoryName(typeof(Native).Assembly.Location) ?? "";
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
