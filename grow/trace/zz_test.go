package trace
import ("testing";"fmt")
func BenchmarkRuns(b *testing.B){
 f:=large(); run:=Column{Key:"steriliser_run",Level:BatchLevel}
 for i:=range f.bags { run.Values=append(run.Values,Exposure{Value:fmt.Sprint("R",i/100)}) }
 b.ResetTimer()
 for b.Loop(){ CompareBeside(f.bags,[]Column{run},f.columns(),DefaultMargin) }
}
