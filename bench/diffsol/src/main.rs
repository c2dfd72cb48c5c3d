//! temp
mod bdf;
mod equations;
use risefit_bench::plain::{outcome, worst_error, Shot};
use risefit_bench::clock::shortest;
fn main() {
    let shot = Shot::plain();
    let exact = outcome(&shot.run(1e-12).unwrap());
    println!("{exact:?}");
    for r in [1e-3,1e-4,1e-5,1e-6,1e-7,1e-8,1e-10] { for h in [1e-1, 1e-2,1e-3,1e-4] { for a in [1.0, 0.1, 0.01] {
        let t = bdf::Tuning{relative:r,absolute:a,first_step:h};
        match bdf::cast(&shot,t,&[]) { Ok(o)=>println!("{r:e} {h:e} {a} {:.1} us err {:.2e} {:?}",1e6*shortest(20,||bdf::cast(&shot,t,&[])), worst_error(&o.0,&exact), o.0), Err(e)=>println!("{r:e} {h:e} {a} {e}")}
    }}}
    for r in [1e-3,3e-4,1e-4,3e-5,1e-5,1e-6,1e-7,1e-8] { println!("ours {r:e} {:.1} us err {:.2e}",1e6*shortest(20,||shot.run(r)), worst_error(&outcome(&shot.run(r).unwrap()),&exact)); }
}
