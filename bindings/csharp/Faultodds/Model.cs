using System;
using System.Collections.Generic;
using System.Runtime.InteropServices;
using System.Threading;

namespace Faultodds
{
    /// <summary>A compiled circuit. Immutable: any number of threads may use one model at once. Calls that
    /// run while it is disposed of are finished; later ones throw ObjectDisposedException.</summary>
    public sealed class Model : IDisposable
    {
        // Constants of capi/faultodds.h.
        private const int ModeKind = 1, ObservationKind = 2, ComponentKind = 3;
        private const int NoteText = 1, NoteOfHtml = 2;
        private const int PlanOfJson = 1, PlanOfHtml = 2;
        private const int RecordJson = 1, RecordCsv = 2, RecordCsvHeaded = 3;

        private readonly ModelHandle handle;

        /// <summary>Compiles a circuit.</summary>
        /// <param name="circuit">A circuit document, JSON text.</param>
        /// <param name="priors">A prior pack; null for the shipped one.</param>
        /// <param name="assetClass">Which entries of the pack to use; empty for none in particular.</param>
        /// <param name="memoryBudget">Bytes of inference tables; 0 for the library's default of 1 GiB.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">A document is refused, or the budget too small.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public Model(
            string circuit, string priors = null, string assetClass = "", ulong memoryBudget = 0,
            CancellationToken cancellationToken = default(CancellationToken))
        {
            byte[] circuitText = Native.Bytes(circuit, "circuit");
            byte[] priorsText = priors == null ? null : Native.Bytes(priors, "priors");
            byte[] classText = Native.Bytes(assetClass, "assetClass");
            GCHandle pinned = GCHandle.Alloc(classText, GCHandleType.Pinned);
            Until until = null;
            try
            {
                until = new Until(cancellationToken);
                var options = new Native.ModelOptions
                {
                    StructSize = new UIntPtr((uint)Marshal.SizeOf(typeof(Native.ModelOptions))),
                    MemoryBudget = memoryBudget,
                    AssetClass = classText.Length == 0 ? IntPtr.Zero : pinned.AddrOfPinnedObject(),
                    AssetClassLength = Native.Length(classText),
                    Cancel = until.Handle,
                };
                IntPtr model, error;
                int status = Native.ModelLoad(
                    circuitText, Native.Length(circuitText), priorsText, Native.Length(priorsText), ref options,
                    out model, out error);
                until.Check(status, error);
                handle = new ModelHandle(model);
            }
            finally
            {
                until?.Dispose();
                pinned.Free();
            }
        }

        /// <summary>Ids of the failure modes, "component.mode", in the order of Case.Posteriors.</summary>
        public IReadOnlyList<string> Modes
        {
            get { return Ids(ModeKind); }
        }

        /// <summary>Ids of everything that can be observed on this circuit.</summary>
        public IReadOnlyList<string> Observations
        {
            get { return Ids(ObservationKind); }
        }

        /// <summary>Ids of the outcomes of an observation, the normal one first.</summary>
        /// <exception cref="FaultoddsException">The circuit has no such observation.</exception>
        public IReadOnlyList<string> Outcomes(string observation)
        {
            byte[] id = Native.Bytes(observation, "observation");
            uint found;
            IntPtr error;
            Native.Check(
                Native.ModelFind(handle, ObservationKind, id, Native.Length(id), out found, out error), error);
            return Ids(
                Native.OutcomeCount(handle, found), outcome => Native.OutcomeId(handle, found, outcome));
        }

        /// <summary>Assesses a case document.</summary>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        public Assessment Assess(string theCase)
        {
            return Assess(theCase, CancellationToken.None);
        }

        /// <summary>The same, with what ends the call.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public Assessment Assess(string theCase, CancellationToken cancellationToken)
        {
            byte[] text = Native.Bytes(theCase, "theCase");
            using (var until = new Until(cancellationToken))
            {
                IntPtr answer, error;
                int status = Native.ModelAssess(
                    handle, text, Native.Length(text), until.Options, out answer, out error);
                until.Check(status, error);
                return new Assessment(Native.Taken(answer));
            }
        }

        /// <summary>A note for the work order, plain text: what was observed, what is suspected and why, what
        /// to do next, the cautions before everything they belong to.</summary>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        public string Note(string theCase)
        {
            return Note(theCase, CancellationToken.None);
        }

        /// <summary>The same, with what ends the call.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public string Note(string theCase, CancellationToken cancellationToken)
        {
            return Text(Native.Note, theCase, NoteText, cancellationToken);
        }

        /// <summary>The same as one HTML page that needs nothing else; what came from documents is escaped.
        /// </summary>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        public string NoteHtml(string theCase)
        {
            return NoteHtml(theCase, CancellationToken.None);
        }

        /// <summary>The same, with what ends the call.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public string NoteHtml(string theCase, CancellationToken cancellationToken)
        {
            return Text(Native.Note, theCase, NoteOfHtml, cancellationToken);
        }

        /// <summary>The tests to make one after the other, by outcome, and what to replace at the end of each
        /// branch.</summary>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        public Plan Plan(string theCase)
        {
            return Plan(theCase, CancellationToken.None);
        }

        /// <summary>The same, with what ends the call, which keeps what is ready.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call before anything was ready.
        /// </exception>
        public Plan Plan(string theCase, CancellationToken cancellationToken)
        {
            return new Plan(Text(Native.Plan, theCase, PlanOfJson, cancellationToken));
        }

        /// <summary>The same as a card to print, one HTML page, the cautions before everything.</summary>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        public string PlanCard(string theCase)
        {
            return PlanCard(theCase, CancellationToken.None);
        }

        /// <summary>The same, with what ends the call, which keeps what is ready.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">The document is refused.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call before anything was ready.
        /// </exception>
        public string PlanCard(string theCase, CancellationToken cancellationToken)
        {
            return Text(Native.Plan, theCase, PlanOfHtml, cancellationToken);
        }

        /// <summary>The record of a closed work order, a document "faultodds-record/1" as JSON text.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="closing">What was found: a document "faultodds-closing/1".</param>
        /// <exception cref="FaultoddsException">A document is refused; a pointer into the case begins with
        /// /case.</exception>
        public string Record(string theCase, string closing)
        {
            return Record(theCase, closing, RecordJson);
        }

        /// <summary>The same as rows of a work-order file (CSV), from which prior packs are learned.</summary>
        /// <param name="theCase">A case document.</param>
        /// <param name="closing">What was found: a document "faultodds-closing/1".</param>
        /// <param name="header">Whether the rows come below the header that begins such a file.</param>
        /// <exception cref="FaultoddsException">As of Record.</exception>
        public string RecordRows(string theCase, string closing, bool header = false)
        {
            return Record(theCase, closing, header ? RecordCsvHeaded : RecordCsv);
        }

        private string Text(
            Native.ModelNoteFunction function, string theCase, int format, CancellationToken cancellationToken)
        {
            byte[] text = Native.Bytes(theCase, "theCase");
            using (var until = new Until(cancellationToken))
            {
                IntPtr result, error;
                int status = function(
                    handle, text, Native.Length(text), format, until.Options, out result, out error);
                until.Check(status, error);
                return Native.Taken(result);
            }
        }

        private string Record(string theCase, string closing, int format)
        {
            byte[] text = Native.Bytes(theCase, "theCase"), closed = Native.Bytes(closing, "closing");
            IntPtr record, error;
            Native.Check(
                Native.Close(
                    handle, text, Native.Length(text), closed, Native.Length(closed), format, null, out record,
                    out error),
                error);
            return Native.Taken(record);
        }

        /// <summary>Opens an empty case, for evidence that comes one by one. It may outlive the model.</summary>
        public Case OpenCase()
        {
            IntPtr opened, error;
            Native.Check(Native.CaseOpen(handle, out opened, out error), error);
            return new Case(new CaseHandle(opened), Modes, Observations, Ids(ComponentKind));
        }

        /// <summary>What the circuit can show, a document "faultodds-model/1" as JSON text.</summary>
        public string Describe()
        {
            IntPtr document, error;
            Native.Check(Native.Describe(handle, null, out document, out error), error);
            return Native.Taken(document);
        }

        /// <summary>Frees the model. May be called again.</summary>
        public void Dispose()
        {
            handle.Dispose();
        }

        private IReadOnlyList<string> Ids(int kind)
        {
            return Ids(Native.ModelCount(handle, kind), index => Native.ModelId(handle, kind, index));
        }

        // The names live as long as the model, which must not be freed between two of them.
        private IReadOnlyList<string> Ids(uint count, Func<uint, IntPtr> name)
        {
            bool kept = false;
            try
            {
                handle.DangerousAddRef(ref kept);
                var ids = new List<string>((int)count);
                for (uint index = 0; index < count; ++index) ids.Add(Native.Text(name(index)));
                return ids.AsReadOnly();
            }
            finally
            {
                if (kept) handle.DangerousRelease();
            }
        }
    }
}
