using System;
using System.Threading;

namespace Faultodds
{
    /// <summary>For one call: ends it when a token is cancelled.</summary>
    internal sealed class Until : IDisposable
    {
        private readonly CancellationToken token;
        private readonly CancellationTokenRegistration registration;

        internal Until(CancellationToken token)
        {
            this.token = token;
            if (!token.CanBeCanceled) return;
            IntPtr made, error;
            int status = Native.CancelNew(out made, out error);
            Native.Check(status, error);
            Handle = made;
            Options = new Native.CallOptions
            {
                StructSize = Native.SizeOf<Native.CallOptions>(),
                Cancel = made,
            };
            try
            {
                registration = token.Register(() => Native.CancelNow(made));
            }
            catch (ObjectDisposedException) // its source is
            {
                Native.CancelFree(made);
                throw;
            }
        }

        /// <summary>Of a call that has options of its own, a member: NULL where nothing shall end it.</summary>
        internal IntPtr Handle { get; }

        /// <summary>Of every other call, the options: null where nothing shall end it.</summary>
        internal Native.CallOptions Options { get; }

        /// <summary>Throws what a status other than OK means; frees the library's error.</summary>
        internal void Check(int status, IntPtr error)
        {
            try
            {
                Native.Check(status, error);
            }
            catch (FaultoddsException problem)
            {
                ThrowIfEnded(status, problem);
                throw;
            }
        }

        /// <summary>Throws what .NET expects of a call that its token has ended.</summary>
        internal void ThrowIfEnded(int status, FaultoddsException problem)
        {
            if (status == Native.Cancelled && token.IsCancellationRequested)
                throw new OperationCanceledException(problem.Sentence, problem, token);
        }

        // Disposing of the registration waits for its callback, which uses the handle.
        public void Dispose()
        {
            registration.Dispose();
            Native.CancelFree(Handle);
        }
    }
}
