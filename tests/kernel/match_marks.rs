//! Match marks on works of every kind: pairs meet in space, numbers agree.

use ribwright_kernel::{Registry, work_out};
use ribwright_tests::marks::check_marks;
use ribwright_tests::works::random_work;

#[test]
fn pairs_of_marks_meet_on_random_works() {
    let registry = Registry::standard();
    let (mut pairs, mut bare) = (0, 0);
    for seed in 0..120 {
        let Ok(work) = random_work(seed).and_then(|s| work_out(&s, &registry)) else { continue };
        let (count, _) = check_marks(&format!("work {seed}"), &work);
        pairs += count;
        bare += usize::from(count == 0);
    }
    assert!(pairs > 5000, "only {pairs} pairs");
    assert!(bare < 5, "{bare} works without a mark");
}
