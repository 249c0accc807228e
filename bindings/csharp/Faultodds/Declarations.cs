using System;
using System.Runtime.InteropServices;

namespace Faultodds
{
    // What the binding declares of the C interface. Written by bindings/declare.py; not to be edited.
    internal static partial class Native
    {
        // Members are written by the library, and set or read by what calls it; not all of them are.
#pragma warning disable 169, 649
        internal const int Ok = 0;
        internal const int InvalidArgument = 1;
        internal const int InvalidJson = 2;
        internal const int InvalidDocument = 3;
        internal const int InvalidCircuit = 4;
        internal const int InvalidCase = 5;
        internal const int InvalidPriors = 6;
        internal const int ConflictingEvidence = 7;
        internal const int LimitExceeded = 8;
        internal const int OutOfMemory = 9;
        internal const int Cancelled = 10;
        internal const int Internal = 11;
        internal const int Mode = 1;
        internal const int Observation = 2;
        internal const int Component = 3;
        internal const int NoteText = 1;
        internal const int NoteHtml = 2;
        internal const int PlanJson = 1;
        internal const int PlanHtml = 2;
        internal const int RecordJson = 1;
        internal const int RecordCsv = 2;
        internal const int RecordCsvHeaded = 3;
        internal const int Bif = 1;
        internal const int Xmlbif = 2;

        /// <summary>faultodds_call_options.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal sealed class CallOptions
        {
            internal UIntPtr StructSize;
            internal IntPtr Cancel;
        }

        /// <summary>faultodds_model_options.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal sealed class ModelOptions
        {
            internal UIntPtr StructSize;
            internal ulong MemoryBudget;
            internal TextOf AssetClass;
            internal IntPtr Cancel;
            internal ulong SearchSteps;
            internal uint SetsPerObservation;
            internal uint Modes;
            internal uint Observations;
            internal uint Reserved;
        }

        /// <summary>faultodds_model_counters.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal struct ModelCounters
        {
            internal UIntPtr StructSize;
            internal ulong PlansMade;
            internal ulong PlansFromCache;
            internal ulong PlansEvicted;
            internal ulong PlansKept;
            internal ulong PlanBytes;
            internal ulong Bytes;
            internal ulong MemoryBudget;
            internal ulong ByTree;
            internal ulong ByTables;
            internal ulong ByProducts;
            internal ulong ByCarefulProducts;
            internal ulong ByJunctionTree;
            internal ulong ByBounded;
        }

        /// <summary>faultodds_ranked_test.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal struct RankedTest
        {
            internal UIntPtr StructSize;
            internal uint Observation;
            internal int Energised;
            internal double InformationBits;
            internal double CauseBits;
            internal double Minutes;
            internal double BitsPerMinute;
        }

        /// <summary>faultodds_case_summary.</summary>
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

        /// <summary>faultodds_causes.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal struct Causes
        {
            internal UIntPtr StructSize;
            internal uint Observation;
            internal uint ShareCount;
            internal ulong ComponentCount;
            internal double ByDesign;
            internal double Elsewhere;
            internal double Nothing;
        }

        /// <summary>faultodds_records.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal sealed class Records
        {
            internal UIntPtr StructSize;
            internal TextOf Path;
            internal TextOf Text;
        }

        /// <summary>faultodds_learn_options.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal sealed class LearnOptions
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
            internal uint CountDistinct;
        }

        /// <summary>faultodds_backtest_options.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal sealed class BacktestOptions
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

        /// <summary>faultodds_network_options.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal sealed class NetworkOptions
        {
            internal UIntPtr StructSize;
            internal ulong MemoryBudget;
            internal IntPtr Cancel;
        }

        /// <summary>faultodds_network_statistics.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal struct NetworkStatistics
        {
            internal UIntPtr StructSize;
            internal ulong Cliques;
            internal ulong Entries;
            internal double DenseEntries;
            internal double LargestClique;
            internal ulong Bytes;
            internal ulong QueryBytes;
        }

        /// <summary>faultodds_network_evidence.</summary>
        [StructLayout(LayoutKind.Sequential)]
        internal struct NetworkEvidence
        {
            internal UIntPtr StructSize;
            internal uint Variable;
            internal int State;
            internal IntPtr Likelihood;
            internal UIntPtr LikelihoodCount;
        }
#pragma warning restore 169, 649

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ProgressCallback(IntPtr context, ulong done);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int WriteCallback(IntPtr context, IntPtr text, UIntPtr textLength);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr VersionFunction();

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr StatusNameFunction(int status);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ErrorCodeFunction(IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr ErrorMessageFunction(IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr ErrorPointerFunction(IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate void ErrorFreeFunction(IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate void FreeFunction(IntPtr text);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CancelNewFunction(out IntPtr cancel, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate void CancelFreeFunction(IntPtr cancel);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate void CancelNowFunction(IntPtr cancel);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate void CancelAfterMsFunction(IntPtr cancel, ulong milliseconds);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate void CancelResetFunction(IntPtr cancel);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int AssessJsonFunction(
            byte[] circuit, UIntPtr circuitLength, byte[] caseDocument, UIntPtr caseLength, byte[] priors,
            UIntPtr priorsLength, CallOptions options, out IntPtr answer, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelLoadFunction(
            byte[] circuit, UIntPtr circuitLength, byte[] priors, UIntPtr priorsLength, ModelOptions options,
            out IntPtr model, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate void ModelFreeFunction(IntPtr model);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate uint ModelCountFunction(ModelHandle model, int kind);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr ModelIdFunction(ModelHandle model, int kind, uint index);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelFindFunction(
            ModelHandle model, int kind, byte[] id, UIntPtr idLength, out uint index, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate uint ModelOutcomeCountFunction(ModelHandle model, uint observation);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr ModelOutcomeIdFunction(ModelHandle model, uint observation, uint outcome);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelReadCountersFunction(
            ModelHandle model, ref ModelCounters counters, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelDescribeJsonFunction(
            ModelHandle model, CallOptions options, out IntPtr document, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelDescribeScreenJsonFunction(
            ModelHandle model, CallOptions options, out IntPtr document, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelAssessJsonFunction(
            ModelHandle model, byte[] caseDocument, UIntPtr caseLength, CallOptions options, out IntPtr answer,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelProposeJsonFunction(
            ModelHandle model, byte[] text, UIntPtr textLength, byte[] language, UIntPtr languageLength,
            CallOptions options, out IntPtr proposals, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelDrawSvgFunction(
            ModelHandle model, byte[] caseDocument, UIntPtr caseLength, uint width, byte[] language,
            UIntPtr languageLength, CallOptions options, out IntPtr svg, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelNoteFunction(
            ModelHandle model, byte[] caseDocument, UIntPtr caseLength, int format, CallOptions options,
            out IntPtr note, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelPlanFunction(
            ModelHandle model, byte[] caseDocument, UIntPtr caseLength, int format, CallOptions options,
            out IntPtr plan, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int ModelCloseFunction(
            ModelHandle model, byte[] caseDocument, UIntPtr caseLength, byte[] closing, UIntPtr closingLength,
            int format, CallOptions options, out IntPtr record, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseOpenFunction(ModelHandle model, out IntPtr newCase, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate void CaseFreeFunction(IntPtr theCase);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseObserveOutcomeFunction(
            CaseHandle theCase, uint observation, uint outcome, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseObserveLikelihoodFunction(
            CaseHandle theCase, uint observation, double[] likelihood, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseObserveJsonFunction(
            CaseHandle theCase, byte[] entry, UIntPtr entryLength, CallOptions options, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseRetractFunction(CaseHandle theCase, uint observation, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseSetupDoneFunction(
            CaseHandle theCase, byte[] step, UIntPtr stepLength, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseAssessFunction(CaseHandle theCase, CallOptions options, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CasesAssessFunction(
            IntPtr[] cases, UIntPtr count, uint threads, CallOptions options, [In, Out] int[] statuses,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseReadSummaryFunction(
            CaseHandle theCase, ref CaseSummary summary, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CasePosteriorsFunction(
            CaseHandle theCase, [In, Out] double[] grades, UIntPtr capacity, out UIntPtr count, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseCausesFunction(
            CaseHandle theCase, uint rank, ref Causes causes, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseSharesFunction(
            CaseHandle theCase, uint rank, [In, Out] double[] probabilities, [In, Out] uint[] ends,
            UIntPtr capacity, [In, Out] uint[] components, UIntPtr componentCapacity, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseTestFunction(
            CaseHandle theCase, uint rank, ref RankedTest test, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CaseAnswerJsonFunction(
            CaseHandle theCase, CallOptions options, out IntPtr answer, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int PriorsLearnFunction(
            Records orders, Records exposure, LearnOptions options, out IntPtr pack, out IntPtr summary,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int PriorsMergeFunction(
            IntPtr[] packs, UIntPtr[] lengths, UIntPtr count, CallOptions options, out IntPtr merged,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int PriorsDiffJsonFunction(
            byte[] before, UIntPtr beforeLength, byte[] after, UIntPtr afterLength, CallOptions options,
            out IntPtr difference, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int PriorsBacktestJsonFunction(
            byte[] circuit, UIntPtr circuitLength, Records orders, BacktestOptions options, out IntPtr answer,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CircuitCheckJsonFunction(
            byte[] circuit, UIntPtr circuitLength, CallOptions options, out IntPtr findings, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CircuitExplainJsonFunction(
            byte[] circuit, UIntPtr circuitLength, byte[] observation, UIntPtr observationLength, byte[] size,
            UIntPtr sizeLength, CallOptions options, out IntPtr explanation, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CircuitDiffJsonFunction(
            byte[] before, UIntPtr beforeLength, byte[] after, UIntPtr afterLength, byte[] theCase,
            UIntPtr caseLength, CallOptions options, out IntPtr difference, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CircuitNewJsonFunction(
            byte[] parts, UIntPtr partsLength, CallOptions options, out IntPtr circuit, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CircuitDrawSvgFunction(
            byte[] circuit, UIntPtr circuitLength, byte[] theCase, UIntPtr caseLength, CallOptions options,
            out IntPtr svg, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int CircuitExpandJsonFunction(
            byte[] circuit, UIntPtr circuitLength, CallOptions options, out IntPtr expanded, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int SchemaJsonFunction(
            byte[] format, UIntPtr formatLength, CallOptions options, out IntPtr schema, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkLoadFunction(
            byte[] text, UIntPtr textLength, int format, NetworkOptions options, out IntPtr network,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate void NetworkFreeFunction(IntPtr network);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate uint NetworkVariableCountFunction(NetworkHandle network);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr NetworkVariableNameFunction(NetworkHandle network, uint variable);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate uint NetworkStateCountFunction(NetworkHandle network, uint variable);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate IntPtr NetworkStateNameFunction(NetworkHandle network, uint variable, uint state);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate UIntPtr NetworkPosteriorCountFunction(NetworkHandle network);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkFindVariableFunction(
            NetworkHandle network, byte[] name, UIntPtr nameLength, out uint variable, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkFindStateFunction(
            NetworkHandle network, uint variable, byte[] name, UIntPtr nameLength, out uint state,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkReadStatisticsFunction(
            NetworkHandle network, ref NetworkStatistics statistics, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkQueryFunction(
            NetworkHandle network, [In] NetworkEvidence[] evidence, UIntPtr count, CallOptions options,
            [In, Out] double[] posteriors, UIntPtr capacity, out UIntPtr written, out double logEvidence,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkCaseOpenFunction(NetworkHandle network, out IntPtr newCase, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate void NetworkCaseFreeFunction(IntPtr theCase);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkCaseObserveFunction(
            IntPtr theCase, [In] NetworkEvidence[] evidence, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkCaseRetractFunction(IntPtr theCase, uint variable, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkCaseSolveFunction(
            IntPtr theCase, CallOptions options, out double logEvidence, out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkCasePosteriorFunction(
            IntPtr theCase, uint variable, [In, Out] double[] posterior, UIntPtr capacity, out UIntPtr written,
            out IntPtr error);

        [UnmanagedFunctionPointer(CallingConvention.Cdecl)]
        internal delegate int NetworkCasePosteriorsFunction(
            IntPtr theCase, [In, Out] double[] posteriors, UIntPtr capacity, out UIntPtr written, out IntPtr error);

        internal static readonly VersionFunction Version = Bind<VersionFunction>("faultodds_version");
        internal static readonly StatusNameFunction StatusName = Bind<StatusNameFunction>("faultodds_status_name");
        internal static readonly ErrorCodeFunction ErrorCode = Bind<ErrorCodeFunction>("faultodds_error_code");
        internal static readonly ErrorMessageFunction ErrorMessage =
            Bind<ErrorMessageFunction>("faultodds_error_message");
        internal static readonly ErrorPointerFunction ErrorPointer =
            Bind<ErrorPointerFunction>("faultodds_error_pointer");
        internal static readonly ErrorFreeFunction ErrorFree = Bind<ErrorFreeFunction>("faultodds_error_free");
        internal static readonly FreeFunction Free = Bind<FreeFunction>("faultodds_free");
        internal static readonly CancelNewFunction CancelNew = Bind<CancelNewFunction>("faultodds_cancel_new");
        internal static readonly CancelFreeFunction CancelFree = Bind<CancelFreeFunction>("faultodds_cancel_free");
        internal static readonly CancelNowFunction CancelNow = Bind<CancelNowFunction>("faultodds_cancel_now");
        internal static readonly CancelAfterMsFunction CancelAfterMs =
            Bind<CancelAfterMsFunction>("faultodds_cancel_after_ms");
        internal static readonly CancelResetFunction CancelReset =
            Bind<CancelResetFunction>("faultodds_cancel_reset");
        internal static readonly AssessJsonFunction AssessJson = Bind<AssessJsonFunction>("faultodds_assess_json");
        internal static readonly ModelLoadFunction ModelLoad = Bind<ModelLoadFunction>("faultodds_model_load");
        internal static readonly ModelFreeFunction ModelFree = Bind<ModelFreeFunction>("faultodds_model_free");
        internal static readonly ModelCountFunction ModelCount = Bind<ModelCountFunction>("faultodds_model_count");
        internal static readonly ModelIdFunction ModelId = Bind<ModelIdFunction>("faultodds_model_id");
        internal static readonly ModelFindFunction ModelFind = Bind<ModelFindFunction>("faultodds_model_find");
        internal static readonly ModelOutcomeCountFunction ModelOutcomeCount =
            Bind<ModelOutcomeCountFunction>("faultodds_model_outcome_count");
        internal static readonly ModelOutcomeIdFunction ModelOutcomeId =
            Bind<ModelOutcomeIdFunction>("faultodds_model_outcome_id");
        internal static readonly ModelReadCountersFunction ModelReadCounters =
            Bind<ModelReadCountersFunction>("faultodds_model_read_counters");
        internal static readonly ModelDescribeJsonFunction ModelDescribeJson =
            Bind<ModelDescribeJsonFunction>("faultodds_model_describe_json");
        internal static readonly ModelDescribeScreenJsonFunction ModelDescribeScreenJson =
            Bind<ModelDescribeScreenJsonFunction>("faultodds_model_describe_screen_json");
        internal static readonly ModelAssessJsonFunction ModelAssessJson =
            Bind<ModelAssessJsonFunction>("faultodds_model_assess_json");
        internal static readonly ModelProposeJsonFunction ModelProposeJson =
            Bind<ModelProposeJsonFunction>("faultodds_model_propose_json");
        internal static readonly ModelDrawSvgFunction ModelDrawSvg =
            Bind<ModelDrawSvgFunction>("faultodds_model_draw_svg");
        internal static readonly ModelNoteFunction ModelNote = Bind<ModelNoteFunction>("faultodds_model_note");
        internal static readonly ModelPlanFunction ModelPlan = Bind<ModelPlanFunction>("faultodds_model_plan");
        internal static readonly ModelCloseFunction ModelClose = Bind<ModelCloseFunction>("faultodds_model_close");
        internal static readonly CaseOpenFunction CaseOpen = Bind<CaseOpenFunction>("faultodds_case_open");
        internal static readonly CaseFreeFunction CaseFree = Bind<CaseFreeFunction>("faultodds_case_free");
        internal static readonly CaseObserveOutcomeFunction CaseObserveOutcome =
            Bind<CaseObserveOutcomeFunction>("faultodds_case_observe_outcome");
        internal static readonly CaseObserveLikelihoodFunction CaseObserveLikelihood =
            Bind<CaseObserveLikelihoodFunction>("faultodds_case_observe_likelihood");
        internal static readonly CaseObserveJsonFunction CaseObserveJson =
            Bind<CaseObserveJsonFunction>("faultodds_case_observe_json");
        internal static readonly CaseRetractFunction CaseRetract =
            Bind<CaseRetractFunction>("faultodds_case_retract");
        internal static readonly CaseSetupDoneFunction CaseSetupDone =
            Bind<CaseSetupDoneFunction>("faultodds_case_setup_done");
        internal static readonly CaseAssessFunction CaseAssess = Bind<CaseAssessFunction>("faultodds_case_assess");
        internal static readonly CasesAssessFunction CasesAssess =
            Bind<CasesAssessFunction>("faultodds_cases_assess");
        internal static readonly CaseReadSummaryFunction CaseReadSummary =
            Bind<CaseReadSummaryFunction>("faultodds_case_read_summary");
        internal static readonly CasePosteriorsFunction CasePosteriors =
            Bind<CasePosteriorsFunction>("faultodds_case_posteriors");
        internal static readonly CaseCausesFunction CaseCauses = Bind<CaseCausesFunction>("faultodds_case_causes");
        internal static readonly CaseSharesFunction CaseShares = Bind<CaseSharesFunction>("faultodds_case_shares");
        internal static readonly CaseTestFunction CaseTest = Bind<CaseTestFunction>("faultodds_case_test");
        internal static readonly CaseAnswerJsonFunction CaseAnswerJson =
            Bind<CaseAnswerJsonFunction>("faultodds_case_answer_json");
        internal static readonly PriorsLearnFunction PriorsLearn =
            Bind<PriorsLearnFunction>("faultodds_priors_learn");
        internal static readonly PriorsMergeFunction PriorsMerge =
            Bind<PriorsMergeFunction>("faultodds_priors_merge");
        internal static readonly PriorsDiffJsonFunction PriorsDiffJson =
            Bind<PriorsDiffJsonFunction>("faultodds_priors_diff_json");
        internal static readonly PriorsBacktestJsonFunction PriorsBacktestJson =
            Bind<PriorsBacktestJsonFunction>("faultodds_priors_backtest_json");
        internal static readonly CircuitCheckJsonFunction CircuitCheckJson =
            Bind<CircuitCheckJsonFunction>("faultodds_circuit_check_json");
        internal static readonly CircuitExplainJsonFunction CircuitExplainJson =
            Bind<CircuitExplainJsonFunction>("faultodds_circuit_explain_json");
        internal static readonly CircuitDiffJsonFunction CircuitDiffJson =
            Bind<CircuitDiffJsonFunction>("faultodds_circuit_diff_json");
        internal static readonly CircuitNewJsonFunction CircuitNewJson =
            Bind<CircuitNewJsonFunction>("faultodds_circuit_new_json");
        internal static readonly CircuitDrawSvgFunction CircuitDrawSvg =
            Bind<CircuitDrawSvgFunction>("faultodds_circuit_draw_svg");
        internal static readonly CircuitExpandJsonFunction CircuitExpandJson =
            Bind<CircuitExpandJsonFunction>("faultodds_circuit_expand_json");
        internal static readonly SchemaJsonFunction SchemaJson = Bind<SchemaJsonFunction>("faultodds_schema_json");
        internal static readonly NetworkLoadFunction NetworkLoad =
            Bind<NetworkLoadFunction>("faultodds_network_load");
        internal static readonly NetworkFreeFunction NetworkFree =
            Bind<NetworkFreeFunction>("faultodds_network_free");
        internal static readonly NetworkVariableCountFunction NetworkVariableCount =
            Bind<NetworkVariableCountFunction>("faultodds_network_variable_count");
        internal static readonly NetworkVariableNameFunction NetworkVariableName =
            Bind<NetworkVariableNameFunction>("faultodds_network_variable_name");
        internal static readonly NetworkStateCountFunction NetworkStateCount =
            Bind<NetworkStateCountFunction>("faultodds_network_state_count");
        internal static readonly NetworkStateNameFunction NetworkStateName =
            Bind<NetworkStateNameFunction>("faultodds_network_state_name");
        internal static readonly NetworkPosteriorCountFunction NetworkPosteriorCount =
            Bind<NetworkPosteriorCountFunction>("faultodds_network_posterior_count");
        internal static readonly NetworkFindVariableFunction NetworkFindVariable =
            Bind<NetworkFindVariableFunction>("faultodds_network_find_variable");
        internal static readonly NetworkFindStateFunction NetworkFindState =
            Bind<NetworkFindStateFunction>("faultodds_network_find_state");
        internal static readonly NetworkReadStatisticsFunction NetworkReadStatistics =
            Bind<NetworkReadStatisticsFunction>("faultodds_network_read_statistics");
        internal static readonly NetworkQueryFunction NetworkQuery =
            Bind<NetworkQueryFunction>("faultodds_network_query");
        internal static readonly NetworkCaseOpenFunction NetworkCaseOpen =
            Bind<NetworkCaseOpenFunction>("faultodds_network_case_open");
        internal static readonly NetworkCaseFreeFunction NetworkCaseFree =
            Bind<NetworkCaseFreeFunction>("faultodds_network_case_free");
        internal static readonly NetworkCaseObserveFunction NetworkCaseObserve =
            Bind<NetworkCaseObserveFunction>("faultodds_network_case_observe");
        internal static readonly NetworkCaseRetractFunction NetworkCaseRetract =
            Bind<NetworkCaseRetractFunction>("faultodds_network_case_retract");
        internal static readonly NetworkCaseSolveFunction NetworkCaseSolve =
            Bind<NetworkCaseSolveFunction>("faultodds_network_case_solve");
        internal static readonly NetworkCasePosteriorFunction NetworkCasePosterior =
            Bind<NetworkCasePosteriorFunction>("faultodds_network_case_posterior");
        internal static readonly NetworkCasePosteriorsFunction NetworkCasePosteriors =
            Bind<NetworkCasePosteriorsFunction>("faultodds_network_case_posteriors");
    }
}
