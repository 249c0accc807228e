using System;
using System.IO;
using System.Linq;
using Faultodds;

/// <summary>embed circuit.json case.json: the likeliest faults, and the best test with its cautions.</summary>
static class Embed
{
    static void Main(string[] args)
    {
        using (var model = new Model(File.ReadAllText(args[0])))
        {
            Assessment answer = model.Assess(File.ReadAllText(args[1]));
            foreach (Fault fault in answer.Faults.OrderBy(fault => fault.Sound).Take(3))
                Console.WriteLine("{0,3:0}%  {1}: {2}", 100 * (1 - fault.Sound), fault.Component, fault.Title);
            Test test = answer.Tests[0];
            foreach (string caution in test.Cautions) Console.WriteLine(caution);
            Console.WriteLine("{0}: {1:0} min\n{2}", test.Title, test.Minutes, test.Because);
        }
    }
}
