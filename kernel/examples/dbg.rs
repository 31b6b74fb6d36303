use nalgebra::{Point3, Vector3};
use ribwright_kernel::*;
use ribwright_kernel::sculpture::*;
use ribwright_kernel::element::Solid;
use std::sync::Arc;
use std::collections::BTreeMap;
use ribwright_kernel::settings::{Value, Values};
fn v3(v: &serde_json::Value) -> Vector3<f64> { let a: Vec<f64> = v.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect(); Vector3::new(a[0],a[1],a[2]) }
fn main() {
    let reg = Registry::standard();
    let flat = std::env::args().any(|a| a == "flat");
    let kind = std::env::args().find_map(|a| a.strip_prefix("joint=").map(str::to_owned)).unwrap_or("true".into());
    for f in std::env::args().skip(1).filter(|a| a.ends_with(".json")) {
        let j: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(&f).unwrap()).unwrap();
        let c = &j["case"];
        let kindname = if flat {"flat"} else {"trapezoid"};
        let row = reg.profiles.iter().find(|r| r.name == kindname).unwrap();
        let mut m = BTreeMap::new();
        if !flat { for k in ["pitch","depth","crest","valley"] { m.insert(k.to_owned(), Value::Number(c["profile"][k].as_f64().unwrap())); } }
        let p = Arc::new((row.build)(&Values::check("p", row.settings, &m).unwrap()).unwrap());
        let mut s = Sculpture::new("x");
        s.joint.kind = kind.clone();
        for e in c["elements"].as_array().unwrap() {
            let faces = e["faces"].as_array().unwrap();
            let solid = Solid::from_planes(e["name"].as_str().unwrap(), faces.iter().map(|f| (f["name"].as_str().unwrap().to_owned(), Point3::from(v3(&f["point"])), v3(&f["normal"]))).collect()).unwrap();
            let mut el = Element::new(solid);
            el.clad(&p);
            for f in faces { let cl = el.face_mut(f["name"].as_str().unwrap()).unwrap(); cl.along = Some(v3(&f["along"])); cl.through = Some(Point3::from(v3(&f["point"]))); cl.phase = f["phase"].as_f64().unwrap(); }
            s.add(el).unwrap();
        }
        let t = std::time::Instant::now();
        let w = work_out(&s, &reg).unwrap();
        let dt = t.elapsed();
        let r = if flat { &j["reference"]["flat"] } else { &j["reference"] };
        let rv = r["enclosed_volume_mm3"].as_f64().unwrap();
        println!("{f} {dt:?} vol {} vs {} rel {:.2e}", w.volume, rv, w.volume/rv-1.0);
        for fa in &w.faces { let ra = r["face_area_mm2"][&fa.id].as_f64().unwrap_or(0.0); if (fa.area-ra).abs() > 1e-6*ra.max(1.0) { println!("  {} {} vs {} pieces {:?}", fa.id, fa.area, ra, fa.pieces); } }
        let key = if flat {"edge_length_mm"} else {"seam_length_mm"};
        let refs = r[key].as_object().unwrap();
        for se in &w.seams { let rl = refs.get(&se.id.replace('~'," ~ ")).and_then(|x| x.as_f64()).unwrap_or(0.0); if (se.length-rl).abs() > 1e-6*rl.max(1.0) { println!("  {} {} vs {} runs {} mism {:.1e} {}", se.id, se.length, rl, se.runs.len(), se.mismatch, se.joint); } }
        println!("  mesh volume rel {:.2e} area rel {:.2e}", w.mesh.volume()/w.volume-1.0, w.mesh.area()/w.area-1.0);
        println!("  seams {} vs {}; max mismatch {:.2e}", w.seams.len(), refs.len(), w.seams.iter().map(|s| s.mismatch).fold(0.0, f64::max));
        for fi in &w.findings { println!("  {:?} {} {} {}", fi.level, fi.code, fi.place, fi.message); }
    }
}
