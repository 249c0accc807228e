using System;
using System.IO;
using System.Linq;
using Faultodds;

/// <summary>embed circuit.json case.json: the likeliest causes, and the best test with its cautions.</summary>
static class Embed
{
    static void Main(string[] args)
    {
        using (var model = new Model(File.ReadAllText(args[0])))
        {
            Assessment answer = model.Assess(File.ReadAllText(args[1]));
            foreach (Causes of in answer.Causes) // of the complaint, then of every other abnormal symptom
            {
                foreach (Share share in of.Shares.Take(3))
                    Console.WriteLine("{0,3:0}%  {1}", 100 * share.Probability, string.Join(" and ", share.Components));
                Console.WriteLine("{0,3:0}%  something else; {1,3:0}%  nothing wrong", 100 * of.Elsewhere, 100 * of.Nothing);
            }
            Test test = answer.Tests[0];
            foreach (string caution in test.Cautions) Console.WriteLine(caution);
            Console.WriteLine("{0}: {1:0} min\n{2}", test.Title, test.Minutes, test.Because);
        }
    }
}
