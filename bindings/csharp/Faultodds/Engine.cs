using System;
using System.Threading;

namespace Faultodds
{
    /// <summary>The one call, and the version.
    /// <para>A program that shows a test shows its cautions before it: <see cref="Test.Cautions"/>.</para>
    /// </summary>
    public static class Engine
    {
        /// <summary>Version of the loaded library, for example "0.2.0".</summary>
        public static string Version { get { return Native.Text(Native.Version()); } }

        /// <summary>Assesses one case against one circuit and forgets both.</summary>
        /// <param name="circuit">A circuit document, JSON text.</param>
        /// <param name="theCase">A case document, JSON text.</param>
        /// <param name="priors">A prior pack; null for the shipped one.</param>
        /// <param name="cancellationToken">Ends the call.</param>
        /// <exception cref="FaultoddsException">A document is refused.</exception>
        /// <exception cref="OperationCanceledException">The token ended the call.</exception>
        public static Assessment Assess(
            string circuit, string theCase, string priors = null,
            CancellationToken cancellationToken = default(CancellationToken))
        {
            byte[] circuitText = Native.Bytes(circuit, "circuit");
            byte[] caseText = Native.Bytes(theCase, "theCase");
            byte[] priorsText = priors == null ? null : Native.Bytes(priors, "priors");
            using (var until = new Until(cancellationToken))
            {
                IntPtr answer, error;
                int status = Native.AssessJson(
                    circuitText, Native.Length(circuitText), caseText, Native.Length(caseText), priorsText,
                    Native.Length(priorsText), until.Options, out answer, out error);
                if (status == 0) return new Assessment(Native.Taken(answer));
                if (error == IntPtr.Zero)
                    throw new FaultoddsException(Native.Text(Native.StatusName(status)), "", "");
                var told = Json.Object(Json.Parse(Native.Taken(error)));
                var problem = new FaultoddsException(
                    (string)told["code"], (string)told["message"], (string)told["pointer"]);
                until.ThrowIfEnded(status, problem);
                throw problem;
            }
        }
    }
}
